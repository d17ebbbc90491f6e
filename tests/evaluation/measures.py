"""The figures a score is judged by, beside what must be reached: recall, delay, mistakes, coverage, one call per cause.

All from scores and forecasts of judged slices. Not here: running them (`evaluate`), or laying a table out (`table`).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np

from tests.evaluation.coverage import Coverage, coverage
from tests.evaluation.evaluate import Judged
from wickwatch.detect.clock import local_minutes
from wickwatch_simulator.catalogue import PROBE_EVENTS
from wickwatch_simulator.score import Score, Tally, Verdict
from wickwatch_simulator.score_input import Call, Event

_SLOW_FAULTS = ("probe-drift", "low-battery")


@dataclass(frozen=True)
class Figure:
    """One figure: what it is, its value (None: nothing to tell it by), of how many, and what must be reached."""

    what: str
    value: float | None
    of: int
    least: float | None = None
    most: float | None = None
    unit: str = ""

    @property
    def reached(self) -> bool | None:
        """Whether it is what it must be; None where nothing is asked or nothing tells."""
        if self.value is None or (self.least is None and self.most is None):
            return None
        return (self.least is None or self.value >= self.least) and (self.most is None or self.value <= self.most)


@dataclass(frozen=True)
class Found:
    """One event found, the call that did, and the time between: minutes, and hours in which lights were on.

    `due_lit_h` are such hours since a container that a cut line starves first asked for water, where that came later.
    """

    event: Event
    call: Call
    minutes: float
    lit_h: float
    due_lit_h: float


class Measures:
    """Everything measured over some slices together."""

    def __init__(self, judged: Sequence[Judged]) -> None:
        self.scores = [each.score() for each in judged]
        self.room_months = sum(score.rooms * score.months for score in self.scores)
        self.rooms = sum(score.rooms for score in self.scores)
        self.seen = _added(score.seen for score in self.scores)
        self.found = [found for each, score in zip(judged, self.scores, strict=True) for found in _found(each, score)]
        self.missed = [event for score in self.scores for event in score.missed]
        self.verdicts = [verdict for score in self.scores for verdict in score.verdicts]
        self.coverage = {what: coverage(judged, what) for what in ("empty", "dry-limit")}
        self._run_outs = [run_out for each in judged for run_out in _run_outs(each)]

    def kinds(self) -> dict[str, Tally]:
        """Figures per kind of alarm."""
        total: dict[str, Tally] = {}
        for score in self.scores:
            for kind, tally in score.kinds.items():
                into = total.setdefault(kind, Tally())
                for name in ("events", "found", "right", "consequences", "false"):
                    setattr(into, name, getattr(into, name) + getattr(tally, name))
                into.delays += tally.delays
        return dict(sorted(total.items()))

    def false_calls(self) -> list[Call]:
        """Calls that nothing explains."""
        return [verdict.call for verdict in self.verdicts if verdict.false]

    def by_event(self) -> dict[str, tuple[int, int]]:
        """Per sort of event that must be found: how many there were, and how many were found."""
        counts: dict[str, tuple[int, int]] = {}
        for event, got in [(each.event, 1) for each in self.found] + [(each, 0) for each in self.missed]:
            if event.required:
                had, found = counts.get(event.event, (0, 0))
                counts[event.event] = had + 1, found + got
        return dict(sorted(counts.items()))

    def must_reach(self) -> list[Figure]:
        """The figures that are asked for, in the order of the kinds."""
        wetting = self._delays("sudden-wetting")
        hand = self._mistaken(("hand-watering", "hand-watering-room"), ("sudden-wetting",))
        cut = [each for each in self.found if each.event.kind in ("reservoir-leak", "supply-interrupted")]
        lit, due = [each.lit_h for each in cut], [each.due_lit_h for each in cut]
        quick = [
            each.minutes / 60.0
            for each in self.found
            if each.event.kind == "probe-fault" and each.event.event not in _SLOW_FAULTS
        ]
        ahead = [each.call.raised <= limit for each in self.found if (limit := _dry_limit_at(each.event)) is not None]
        named = self._named()
        lying = self._mistaken(PROBE_EVENTS, ("sudden-wetting", "drying-drift"))
        false = len(self.false_calls())
        figures = [
            self._recall("sudden-wetting", 0.99),
            Figure("sudden-wetting: delay, median", _at(wetting, 50), len(wetting), most=30, unit="min"),
            Figure("sudden-wetting: delay, 95 %", _at(wetting, 95), len(wetting), most=90, unit="min"),
            Figure("hand watering called stuck open", _share(hand), len(hand), most=0.01),
            self._recall("reservoir-empty", 1.0),
            Figure("reservoir-empty: delay, median", _at(self._delays("reservoir-empty"), 50),
                   len(self._delays("reservoir-empty")), most=5, unit="min"),
            Figure("reservoir-empty: delay, 95 %", _at(self._delays("reservoir-empty"), 95),
                   len(self._delays("reservoir-empty")), most=5, unit="min"),
            Figure("run-outs foretold 12 h ahead", _share(self._run_outs), len(self._run_outs), least=0.95),
            self._recall("reservoir-leak", 0.97),
            self._recall("supply-interrupted", 0.97),
            Figure("leak and supply: lit hours of delay, 95 %", _at(lit, 95), len(lit), most=6, unit="h"),
            Figure("the same, cut lines from when a container was due", _at(due, 95), len(due), unit="h"),
            Figure("leak and supply: one call", _share([self._calls_for(each) == 1 for each in cut]), len(cut),
                   least=1.0),
            self._recall("drying-drift", 0.95),
            Figure("drying-drift: called before the dry limit", _share(ahead), len(ahead), least=0.90),
            Figure("drying-drift: names the right container", _share(named), len(named), least=1.0),
            self._recall("probe-fault", 0.97),
            self._recall("probe-silent", 0.97),
            Figure("probe-fault: delay, 95 %, drifts and batteries left out", _at(quick, 95), len(quick),
                   most=3, unit="h"),
            Figure("probe-silent: delay, 95 %", _at(self._delays("probe-silent"), 95),
                   len(self._delays("probe-silent")), unit="min"),
            Figure("probe trouble taken for wetting or drying", _share(lying), len(lying), most=0.02),
            Figure("false calls per room and month", false / self.room_months, false, most=0.03),
        ]  # fmt: skip
        for what, name in (("empty", "time to empty"), ("dry-limit", "time to dry limit")):
            seen: Coverage = self.coverage[what]
            figures.append(Figure(f"80 % interval of {name}: coverage", seen.share, seen.events, 0.75, 0.85))
        return figures

    def _recall(self, kind: str, least: float) -> Figure:
        tally = self.kinds().get(kind, Tally())
        return Figure(f"{kind}: recall", tally.recall, tally.events, least=least)

    def _delays(self, kind: str) -> list[float]:
        return [each.minutes for each in self.found if each.event.kind == kind]

    def _mistaken(self, events: Iterable[str], kinds: Sequence[str]) -> list[bool]:
        """For each event of these sorts, whether it was taken for one of these kinds."""
        some = []
        for event in events:
            seen = self.seen.get(event, 0)
            wrong = sum(sum(score.mistaken.get(event, {}).get(kind, 0) for score in self.scores) for kind in kinds)
            some += [True] * min(wrong, seen) + [False] * max(seen - wrong, 0)
        return some

    def _calls_for(self, found: Found) -> int:
        """How many calls were for an event: the one that found it, though it stood before, and what follows from it."""
        calls = (each.call for each in self.verdicts if found.event in each.right or found.event in each.follows)
        return len({found.call, *calls})

    def _named(self) -> list[bool]:
        """For each call of a drift, whether it names the container that drifts, and not a neighbour in its room."""
        drifts = [each.event for each in self.found if each.event.event in ("drifting", "clogged")]
        named = []
        for verdict in self.verdicts:
            if verdict.call.kind != "drying-drift" or verdict.follows:
                continue
            here = [event for event in drifts if _near(event, verdict)]
            if here:
                named.append(bool(verdict.right))
        return named


def _near(event: Event, verdict: Verdict) -> bool:
    call = verdict.call
    lasts = event.begin <= call.raised and (event.end is None or call.raised <= event.end + timedelta(hours=24))
    return event.facility == call.facility and call.room in event.rooms and lasts


def _found(judged: Judged, score: Score) -> list[Found]:
    found = []
    for event, call in score.first:
        if event.onset is None or not event.required:
            continue
        minutes = max((call.raised - event.onset) / timedelta(minutes=1), 0.0)
        room = next(iter(sorted(event.rooms)), "")
        known = (event.facility, room) in judged.lights
        due = datetime.fromisoformat(str(event.detail.get("due_at") or event.onset))
        lit, due_lit = (
            _lit_hours(judged, event.facility, room, begin, call.raised) if known else 0.0
            for begin in (event.onset, due)
        )
        found.append(Found(event, call, minutes, lit, due_lit))
    return found


def _lit_hours(judged: Judged, facility: str, room: str, begin: datetime, end: datetime) -> float:
    """Hours between two moments in which a room's lights were on by its own plan."""
    zone, on, off = judged.lights[facility, room]
    start = np.datetime64(begin.replace(tzinfo=None), "m")
    times = start + np.arange(0, max(int((end - begin) / timedelta(minutes=1)), 0), 5).astype("timedelta64[m]")
    if not len(times):
        return 0.0
    length = (off - on) % 1440 or 1440
    return float((((local_minutes(zone, times) - on) % 1440) < length).sum() * 5 / 60.0)


def _dry_limit_at(event: Event) -> datetime | None:
    """When a drifting container passed its dry limit; None if it never did."""
    at = event.detail.get("dry_limit_at")
    return datetime.fromisoformat(str(at)) if event.kind == "drying-drift" and at else None


def _run_outs(judged: Judged) -> list[bool]:
    """For each run-out that could be known 12 hours ahead, whether it was foretold."""
    score = judged.score()
    return [True] * score.foretold + [False] * (score.run_outs - score.foretold)


def _added(counts: Iterable[Mapping[str, int]]) -> dict[str, int]:
    total: dict[str, int] = {}
    for each in counts:
        for name, count in each.items():
            total[name] = total.get(name, 0) + count
    return dict(sorted(total.items()))


def _share(which: Sequence[bool]) -> float | None:
    return sum(which) / len(which) if which else None


def _at(values: Sequence[float], percent: float) -> float | None:
    return float(np.percentile(values, percent)) if values else None
