"""A run judged as the watch would have judged it, sweep after sweep: when was what found.

The same `due` and `sweep` as live, but every five minutes and not every half; where a reservoir is newly empty, which
live is called by the next sweep, that one is made, too, half a minute later and with no newer readings.
Not here: alarms, and comparing with the truth.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta

import numpy as np

from tests.evaluation.runs import Run
from wickwatch.detect import Finding, Judgement, Key, due, sweep
from wickwatch.detect.clock import moment
from wickwatch.fleet import Kind

STEP = timedelta(minutes=5)
NEXT = timedelta(seconds=30)
_EMPTY: frozenset[Kind] = frozenset({"reservoir-empty"})


def judgements(run: Run, kinds: frozenset[Kind], start: datetime, end: datetime) -> Iterator[Judgement]:
    """Judgements of the asked kinds at every five minutes in [start, end), as far as they are due."""
    previous: datetime | None = None
    empty: frozenset[Key] = frozenset()
    at = start
    while at < end:
        asked = due(previous, at) & kinds
        if asked:
            frame = run.record.frame(np.datetime64(at.replace(tzinfo=None), "us"))
            judged = sweep(frame, run.place, (), asked)
            yield judged
            before, empty = empty, frozenset(found.key for found in judged.findings if found.kind in _EMPTY)
            if empty - before:
                later = np.datetime64((at + NEXT).replace(tzinfo=None), "us")
                yield sweep(replace(frame, as_of=later), run.place, (), _EMPTY)
        previous = at
        at += STEP


@dataclass
class Spell:
    """One finding from the first sweep that said so to the last, as long as no sweep in between denied it."""

    first: Finding
    begin: datetime
    end: datetime
    last: Finding
    open: bool = True


@dataclass
class Spells:
    """All findings of a replay, joined over sweeps."""

    done: list[Spell] = field(default_factory=list)

    def take(self, judgement: Judgement) -> None:
        """Continue, begin and end spells by one judgement."""
        running = {spell.first.key: spell for spell in self.done if spell.open}
        found = {finding.key: finding for finding in judgement.findings}
        for key, finding in found.items():
            if key in running:
                running[key].end, running[key].last = judgement.as_of, finding
            else:
                self.done.append(Spell(finding, judgement.as_of, judgement.as_of, finding))
        for key, spell in running.items():
            if key[0] in judgement.judged and key not in found and key not in judgement.unknown:
                spell.open = False


def spells(run: Run, kinds: frozenset[Kind], start: datetime | None = None, end: datetime | None = None) -> list[Spell]:
    """Replay a run, or a part of it."""
    begin = moment(run.record.start) + timedelta(hours=2) if start is None else start
    joined = Spells()
    for judgement in judgements(run, kinds, begin, moment(run.record.end) if end is None else end):
        joined.take(judgement)
    return joined.done
