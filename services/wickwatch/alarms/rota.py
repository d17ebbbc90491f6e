"""Who has the duty at each step over a span: weekly turns, who stands in on holidays, and turns by date before both.

Pure. Turns change at a time of the facility's clock. Where daylight saving makes that time come twice the first one
counts, and where it skips it the clock is read as if it had not been moved yet, so that 02:30 is 03:30 (RFC 5545,
section 3.3.5; PEP 495). Not here: how a rota is kept (`store.rota`), how people are reached (`duty`), which days are
holidays (`rota_holidays`).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime, time, timedelta
from typing import Literal
from uuid import UUID
from zoneinfo import ZoneInfo

#: What decides a span: a turn by date, a holiday's stand-in, or the weekly turns. The first there is counts.
Source = Literal["date", "holiday", "weekly"]

_NEVER = datetime.max.replace(tzinfo=UTC)


@dataclass(frozen=True)
class Pattern:
    """People who follow one another at one step, each for `turn_days`, again and again.

    The first has the turn from `starts_on` at `hand_over`, a time of the facility's clock; from `ends_on` at that time
    on nobody has, or ever where it is None. With `on_holidays` it holds on holidays only, each from its hand-over time
    to that of the next day.
    """

    id: UUID
    step: int
    people: tuple[UUID, ...]
    starts_on: date
    hand_over: time
    turn_days: int = 7
    ends_on: date | None = None
    on_holidays: bool = False


@dataclass(frozen=True)
class DatedTurn:
    """One person's turn at one step from `start` until `end` (not included), or until somebody ends it."""

    id: UUID
    step: int
    person_id: UUID
    start: datetime
    end: datetime | None


@dataclass(frozen=True)
class Rota:
    """All that decides who has the duty in a facility; `holidays` are names of days by their date."""

    zone: ZoneInfo
    patterns: tuple[Pattern, ...] = ()
    turns: tuple[DatedTurn, ...] = ()
    holidays: Mapping[date, str] = field(default_factory=dict)

    @property
    def steps(self) -> tuple[int, ...]:
        """Steps that anything is said about, in order."""
        return tuple(sorted({each.step for each in self.patterns} | {each.step for each in self.turns}))


@dataclass(frozen=True)
class Span:
    """A time in which one person, or nobody, has the duty at a step; times are UTC.

    `source_id` and `number` name the turn it is (or is a piece of): of a turn by date its id and 0, of a pattern its id
    and the turn's number, or the day's on a holiday.
    """

    step: int
    start: datetime
    end: datetime
    person_id: UUID | None = None
    source: Source | None = None
    source_id: UUID | None = None
    number: int = 0


def wall(day: date, clock: time, zone: ZoneInfo) -> datetime:
    """The moment, in UTC, at which a clock of the zone shows this time on this day."""
    return datetime.combine(day, clock.replace(fold=0), zone).astimezone(UTC)


def spans(rota: Rota, step: int, start: datetime, end: datetime) -> tuple[Span, ...]:
    """Who has the duty at a step over [start, end), without a hole: spans in which nobody has say so."""
    found = [Span(step, start, end)]
    for layer in (_weekly(rota, step, start, end), _holidays(rota, step, start, end), _dated(rota, step, end)):
        for top in layer:
            found = _laid_over(found, top)
    return tuple(found)


def person_at(rota: Rota, step: int, at: datetime) -> UUID | None:
    """Who has the duty at a step at a moment."""
    return spans(rota, step, at, at + timedelta(microseconds=1))[0].person_id


def gaps(rota: Rota, start: datetime, end: datetime) -> tuple[tuple[datetime, datetime], ...]:
    """Spans of [start, end) in which nobody has the duty at any step."""
    holes = [(start, end)]
    for step in rota.steps:
        for span in spans(rota, step, start, end):
            if span.person_id is not None:
                holes = [rest for hole in holes for rest in _without(*hole, span.start, span.end)]
    return tuple(holes)


def whole_turns(rota: Rota, step: int, start: datetime, end: datetime) -> tuple[Span, ...]:
    """Spans as in `spans` in which somebody has the duty, but whole where [start, end) would cut them.

    A turn without an end ends where what is looked at does.
    """
    layers = (*_weekly(rota, step, start, end), *_holidays(rota, step, start, end), *_dated(rota, step, end))
    around = [each for each in layers if each.end > start]
    first = min((each.start for each in around), default=start)
    last = max((each.end for each in around), default=end)
    found = spans(rota, step, min(first, start), max(last, end))
    return tuple(each for each in found if each.person_id is not None and each.start < end and each.end > start)


def quiet_until(starts: time, ends: time, at: datetime, zone: ZoneInfo) -> datetime | None:
    """The end of the quiet hours that `at` lies in, in UTC; None outside them.

    They run from `starts` to `ends` of the zone's clock, over midnight where `ends` is not later.
    """
    today = at.astimezone(zone).date()
    for day in (today - timedelta(days=1), today):
        last = day if ends > starts else day + timedelta(days=1)
        begin, end = wall(day, starts, zone), wall(last, ends, zone)
        if begin <= at < end:
            return end
    return None


def _weekly(rota: Rota, step: int, start: datetime, end: datetime) -> Iterator[Span]:
    """Turns of the patterns of a step that overlap [start, end)."""
    for pattern in rota.patterns:
        if pattern.step != step or pattern.on_holidays:
            continue
        days = timedelta(days=pattern.turn_days)
        last = _last(rota, pattern)
        number = max(0, (start.astimezone(rota.zone).date() - pattern.starts_on) // days - 1)
        while True:
            day = pattern.starts_on + number * days
            begin = wall(day, pattern.hand_over, rota.zone)
            until = min(wall(day + days, pattern.hand_over, rota.zone), last)
            if begin >= min(end, last):
                break
            if until > start:
                yield Span(step, begin, until, _whose(pattern, number), "weekly", pattern.id, number)
            number += 1


def _last(rota: Rota, pattern: Pattern) -> datetime:
    """When a pattern is over: at the first hand-over of the one that follows it, else at its own last."""
    if pattern.ends_on is None:
        return _NEVER
    following = (
        each.hand_over
        for each in rota.patterns
        if (each.step, each.starts_on, each.on_holidays) == (pattern.step, pattern.ends_on, pattern.on_holidays)
    )
    return wall(pattern.ends_on, next(following, pattern.hand_over), rota.zone)


def _holidays(rota: Rota, step: int, start: datetime, end: datetime) -> Iterator[Span]:
    """Holidays that overlap [start, end), for the patterns of a step that hold on holidays."""
    for pattern in rota.patterns:
        if pattern.step != step or not pattern.on_holidays:
            continue
        for day in sorted(rota.holidays):
            if not pattern.starts_on <= day < (pattern.ends_on or date.max):
                continue
            begin = wall(day, pattern.hand_over, rota.zone)
            until = wall(day + timedelta(days=1), pattern.hand_over, rota.zone)
            if begin < end and until > start:
                number = (day - pattern.starts_on).days // pattern.turn_days
                yield Span(step, begin, until, _whose(pattern, number), "holiday", pattern.id, day.toordinal())


def _dated(rota: Rota, step: int, end: datetime) -> Iterator[Span]:
    """Turns by date of a step that begin before `end`."""
    for turn in rota.turns:
        if turn.step == step and turn.start < end:
            yield Span(step, turn.start, turn.end or end, turn.person_id, "date", turn.id)


def _whose(pattern: Pattern, number: int) -> UUID:
    return pattern.people[number % len(pattern.people)]


def _laid_over(found: Iterable[Span], top: Span) -> list[Span]:
    """Spans with another laid over them, cut to where they are."""
    after: list[Span] = []
    for span in found:
        begin, stop = max(span.start, top.start), min(span.end, top.end)
        if begin >= stop:
            after.append(span)
            continue
        if span.start < begin:
            after.append(replace(span, end=begin))
        after.append(replace(top, start=begin, end=stop))
        if stop < span.end:
            after.append(replace(span, start=stop))
    return _joined(after)


def _joined(found: list[Span]) -> list[Span]:
    """Neighbours that are pieces of one turn as one span."""
    joined: list[Span] = []
    for span in found:
        before = joined[-1] if joined else None
        if before is not None and before.end == span.start and replace(before, start=span.start, end=span.end) == span:
            joined[-1] = replace(before, end=span.end)
        else:
            joined.append(span)
    return joined


def _without(start: datetime, end: datetime, taken: datetime, until: datetime) -> Iterator[tuple[datetime, datetime]]:
    """What is left of [start, end) without [taken, until)."""
    if start < min(end, taken):
        yield start, min(end, taken)
    if max(start, until) < end:
        yield max(start, until), end
