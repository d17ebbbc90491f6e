"""Comparing the truth with a backtest's alarms, by the rules in `score_rules`.

Returns figures per kind of alarm. Not here: reading the files (`score_input`) and printing (`score_report`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any

import numpy as np

from wickwatch.errors import InputError
from wickwatch_simulator.score_input import Call, Event, calls, events, explained, moment
from wickwatch_simulator.score_rules import (
    EARLY_H,
    FOLLOWS,
    FORETOLD_H,
    GRACE_H,
    GRACE_OTHER_H,
    MISTAKE_H,
    MONTH_DAYS,
    PATIENCE_H,
    PATIENCE_OTHER_H,
    TAKES_WATER,
)


@dataclass
class Tally:
    """Figures of one kind of alarm; `delays` in minutes."""

    events: int = 0
    found: int = 0
    delays: list[float] = field(default_factory=list)
    right: int = 0
    consequences: int = 0
    false: int = 0

    @property
    def calls(self) -> int:
        """All calls of this kind."""
        return self.right + self.consequences + self.false

    @property
    def recall(self) -> float | None:
        """Found / to be found."""
        return self.found / self.events if self.events else None

    @property
    def precision(self) -> float | None:
        """Right / right or false."""
        return self.right / (self.right + self.false) if self.right + self.false else None

    def delay(self, percent: float) -> float | None:
        """A percentile of delay [min]."""
        return float(np.percentile(self.delays, percent)) if self.delays else None


@dataclass(frozen=True)
class Verdict:
    """What one call is: `right` or `follows` for the events named, or false, with none."""

    call: Call
    right: tuple[Event, ...] = ()
    follows: tuple[Event, ...] = ()

    @property
    def false(self) -> bool:
        """Whether nothing that happened explains the call."""
        return not self.right and not self.follows


@dataclass
class Score:
    """The whole comparison.

    `mistaken` counts, per sort of event and kind, the events that a false call mistook; `seen` all events of each sort.
    `first` are the events found, each with the call that found it.
    """

    kinds: dict[str, Tally]
    rooms: int
    months: float
    run_outs: int
    foretold: int
    mistaken: dict[str, dict[str, int]]
    seen: dict[str, int]
    missed: list[Event]
    first: list[tuple[Event, Call]]
    verdicts: list[Verdict]

    @property
    def false(self) -> list[Call]:
        """Calls that nothing explains."""
        return [verdict.call for verdict in self.verdicts if verdict.false]

    @property
    def false_per_room_month(self) -> float:
        """False calls of all kinds per room and month."""
        return len(self.false) / (self.rooms * self.months)


def _grace(kind: str) -> timedelta:
    return timedelta(hours=GRACE_H.get(kind, GRACE_OTHER_H))


def _lasts(event: Event, call: Call, since: datetime) -> bool:
    return since <= call.raised and (event.end is None or call.raised <= event.end + _grace(call.kind))


def _same_room(event: Event, call: Call) -> bool:
    return event.facility == call.facility and (call.room is None or "" in event.rooms or call.room in event.rooms)


def _of_it(event: Event, call: Call) -> bool:
    """Whether a call is of an event's kind, in its room and about its subject."""
    return event.kind == call.kind and _same_room(event, call) and bool(event.names & call.names)


def is_right(event: Event, call: Call) -> bool:
    """Rule 2."""
    if event.onset is None or not _of_it(event, call):
        return False
    return _lasts(event, call, event.onset - timedelta(hours=EARLY_H.get(call.kind, 0.0)))


def _stands_for(event: Event, call: Call) -> bool:
    """Rule 8: whether a call that came too early stands when the event comes, so that nobody is called again."""
    if event.onset is None or not _of_it(event, call):
        return False
    return call.raised < event.onset and (call.cleared is None or call.cleared > event.onset)


def is_consequence(event: Event, call: Call) -> bool:
    """Rule 3."""
    follows = FOLLOWS.get(event.event)
    if not follows or not _same_room(event, call) or not _lasts(event, call, event.begin):
        return False
    return (
        (call.kind in follows.get("subject", ()) and bool(event.names & call.names))
        or (call.kind in follows.get("explained", ()) and bool(event.explained & call.names))
        or call.kind in follows.get("room", ())
    )


def score(truth: Sequence[dict[str, Any]], alarms: Sequence[dict[str, Any]]) -> Score:
    """Compare; raises InputError if the truth does not tell its period and rooms."""
    runs = [r for r in truth if r.get("event") == "simulated"]
    if not runs:
        raise InputError("truth", "no record of the run", "a truth file with its `simulated` records, one per facility")
    begin, end = min(moment(r["from"], "truth") for r in runs), max(moment(r["to"], "truth") for r in runs)
    rooms = sum(int(r["detail"]["rooms"]) for r in runs)
    known, made = events(truth), calls(alarms)
    kinds: dict[str, Tally] = {}
    first: dict[int, Call] = {}
    verdicts: list[Verdict] = []
    by_facility: dict[str, list[tuple[int, Event]]] = {}
    for i, event in enumerate(known):
        by_facility.setdefault(event.facility, []).append((i, event))
    for call in made:
        tally = kinds.setdefault(call.kind, Tally())
        near = by_facility.get(call.facility, [])
        right = [i for i, event in near if is_right(event, call)]
        follows = [] if right else [event for _, event in near if is_consequence(event, call)]
        verdicts.append(Verdict(call, tuple(known[i] for i in right), tuple(follows)))
        for i in (*right, *(i for i, event in near if _stands_for(event, call))):
            first.setdefault(i, call)
        tally.right += bool(right)
        tally.consequences += bool(follows)
        tally.false += verdicts[-1].false
    missed = _find(known, first, end, kinds)
    run_outs = [e for e in known if e.kind == "reservoir-empty" and e.onset is not None and _knowable(e, known)]
    ahead = [*made, *explained(alarms)]
    foretold = sum(any(_foretells(call, e) for call in ahead) for e in run_outs)
    mistaken, seen = _mistakes(known, [verdict.call for verdict in verdicts if verdict.false])
    months = (end - begin) / timedelta(days=MONTH_DAYS)
    found = [(known[i], call) for i, call in first.items()]
    tallies = dict(sorted(kinds.items()))
    return Score(tallies, rooms, months, len(run_outs), foretold, mistaken, seen, missed, found, verdicts)


def _find(known: Sequence[Event], first: dict[int, Call], end: datetime, kinds: dict[str, Tally]) -> list[Event]:
    """Rule 5: fill in what was to be found and what was; returns the missed."""
    missed = []
    for i, event in enumerate(known):
        if event.kind is None or event.onset is None or not event.required:
            continue
        if i not in first and _nothing_drank(event, known):
            continue
        patience = timedelta(hours=PATIENCE_H.get(event.kind, PATIENCE_OTHER_H))
        if i not in first and min(event.end or end, end) - event.onset < patience:
            continue
        tally = kinds.setdefault(event.kind, Tally())
        tally.events += 1
        if i in first:
            tally.found += 1
            tally.delays.append(max((first[i].raised - event.onset).total_seconds() / 60.0, 0.0))
        else:
            missed.append(event)
    return missed


def _nothing_drank(event: Event, known: Sequence[Event]) -> bool:
    if event.kind != "drying-drift" or event.detail.get("dry_limit_at"):
        return False
    return any(
        other.event == "plant-removed"
        and other.names & event.names
        and _same_place(other, event)
        and _overlap(other, event)
        for other in known
    )


def _same_place(one: Event, other: Event) -> bool:
    return one.facility == other.facility and bool(one.rooms & other.rooms)


def _overlap(one: Event, other: Event) -> bool:
    return (one.end is None or other.begin < one.end) and (other.end is None or one.begin < other.end)


def _foretells(call: Call, event: Event) -> bool:
    assert event.onset is not None
    ahead = event.onset - call.raised
    same = call.kind == "reservoir-low" and _same_room(event, call) and bool(event.names & call.names)
    return same and timedelta(hours=FORETOLD_H) <= ahead <= timedelta(days=7)


def _knowable(run_out: Event, known: Sequence[Event]) -> bool:
    """Rule 7: whether the water that ran out was leaving already when it had to be foretold."""
    assert run_out.onset is not None
    lately = run_out.onset - timedelta(hours=FORETOLD_H)
    return not any(
        other.event in TAKES_WATER
        and _same_place(other, run_out)
        and other.names & (run_out.names | run_out.explained)
        and lately < other.begin < run_out.onset
        for other in known
    )


def _mistakes_it(event: Event, call: Call) -> bool:
    after = timedelta(hours=MISTAKE_H)
    return event.begin <= call.raised and (event.end is None or call.raised <= event.end + after)


def _mistakes(known: Sequence[Event], false: Sequence[Call]) -> tuple[dict[str, dict[str, int]], dict[str, int]]:
    """Rule 6: per sort of event, how many events each kind of false call mistook; and how many events there are."""
    mistaken: dict[str, dict[str, int]] = {}
    seen: dict[str, int] = {}
    for event in known:
        seen[event.event] = seen.get(event.event, 0) + 1
        wide = bool(event.names & event.rooms) or "" in event.rooms
        kinds = {
            c.kind for c in false if _same_room(event, c) and (wide or event.names & c.names) and _mistakes_it(event, c)
        }
        for kind in kinds:
            of = mistaken.setdefault(event.event, {})
            of[kind] = of.get(kind, 0) + 1
    return mistaken, seen
