"""The rota of a facility as people read it: who is called now, whose turn comes, and where nobody has one.

Not here: who has which turn (`alarms.rota`), nor the forms' own lists (`rota_forms`).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from uuid import UUID
from zoneinfo import ZoneInfo

from wickwatch.alarms import Duty, OnDuty
from wickwatch.alarms.policy import ESCALATES
from wickwatch.alarms.rota import Pattern, Rota, Span, gaps, spans
from wickwatch.alarms.rota_calls import WouldCall, would_call
from wickwatch.store.colleagues import Colleague
from wickwatch.store.people import Visible
from wickwatch.web.views import words
from wickwatch.web.views.times import Moment, moment, span

#: How far ahead turns and gaps are shown.
AHEAD = timedelta(weeks=5)

_ORDER = ("First", "Second", "Third", "Fourth", "Fifth", "Sixth", "Seventh", "Eighth", "Ninth")
_WEEKDAYS = ("Mondays", "Tuesdays", "Wednesdays", "Thursdays", "Fridays", "Saturdays", "Sundays")


@dataclass(frozen=True)
class Called:
    """One person of a rung: `how` says over which ways, `quiet` until when low priority waits."""

    name: str
    how: str
    quiet: Moment | None


@dataclass(frozen=True)
class Rung:
    """Those called at once, `when` in relation to the first call; `spared` names those in quiet hours."""

    when: str
    people: tuple[Called, ...]
    spared: str


@dataclass(frozen=True)
class TurnRow:
    """One span of a step; `name` is empty where nobody has it.

    `start` is None where it has begun, `end` where it goes on beyond what is shown.
    """

    start: Moment | None
    end: Moment | None
    name: str
    why: str


@dataclass(frozen=True)
class StepRows:
    """The turns of one step, in order."""

    heading: str
    rows: tuple[TurnRow, ...]


@dataclass(frozen=True)
class PatternLine:
    """Weekly turns in a sentence."""

    id: UUID
    heading: str
    names: str
    when: str
    over: bool


@dataclass(frozen=True)
class RotaPage:
    """Who is called now and then, and what there is to warn of; `low_waits` times as long for low priority."""

    sentence: str
    rungs: tuple[Rung, ...]
    warnings: tuple[str, ...]
    low_waits: int
    steps: tuple[StepRows, ...]
    patterns: tuple[PatternLine, ...]


def page(
    rota: Rota, duty: Duty, people: Sequence[Colleague], facility: Visible, holidays_kept: bool, now: datetime
) -> RotaPage:
    """The page's content over the next `AHEAD`; `holidays_kept` tells whether a country's are chosen."""
    names = {person.id: person.name for person in people}
    until = now + AHEAD
    found = {step: spans(rota, step, now, until) for step in rota.steps}
    return RotaPage(
        sentence=_sentence(duty, facility),
        rungs=calls(would_call(duty, "high"), rota.zone, now),
        low_waits=ESCALATES["low"],
        warnings=tuple(_warnings(rota, duty, people, found, holidays_kept, now)),
        steps=tuple(
            StepRows(f"{ordinal(step)} to be called", tuple(_row(each, rota, names, now) for each in _joined(rows)))
            for step, rows in found.items()
        ),
        patterns=tuple(_pattern(each, names, now.astimezone(rota.zone).date()) for each in rota.patterns),
    )


def ordinal(step: int) -> str:
    """The name of a step: First, Second and so on."""
    return _ORDER[step - 1]


def _sentence(duty: Duty, facility: Visible) -> str:
    if not duty.first:
        return f"Nobody at {facility.name} can be called now."
    called = words.names([person.name for person in duty.first])
    if duty.fallback:
        return f"Nobody who can be reached is on duty at {facility.name}, so its managers are called: {called}."
    return f"{called} {'is' if len(duty.first) == 1 else 'are'} called first now."


def calls(found: WouldCall, zone: ZoneInfo, now: datetime) -> tuple[Rung, ...]:
    """Who would be called, rung by rung; a rung of which all are in quiet hours has nobody."""
    return tuple(
        Rung(
            f"after {span(rung.after)} without an answer" if rung.after else "at once",
            tuple(_called(person, zone, now) for person in rung.people),
            words.names([person.name for person in rung.spared]),
        )
        for rung in found.rungs
    )


def _called(person: OnDuty, zone: ZoneInfo, now: datetime) -> Called:
    ways = [words.WAYS.get(contact.way, contact.way) for contact in person.contacts]
    quiet = moment(person.quiet_until, zone, now) if person.quiet_until else None
    return Called(person.name, ", then ".join(ways), quiet)


def _warnings(
    rota: Rota,
    duty: Duty,
    people: Sequence[Colleague],
    found: Mapping[int, Sequence[Span]],
    holidays_kept: bool,
    now: datetime,
) -> list[str]:
    """What somebody should see to, the gravest first."""
    whole = gaps(rota, now, now + AHEAD)
    said = [
        f"Nobody has the duty {_between(start, end, rota.zone, now)}; the managers are called then."
        for start, end in whole
    ]
    for row in _joined(found[min(found)]) if found else ():
        if row.person_id is None and not any(start < row.end and row.start < end for start, end in whole):
            said.append(f"Nobody is first to be called {_between(row.start, row.end, rota.zone, now)}.")
    if not duty.managers and not duty.fallback:
        said.append("No manager can be reached, so nobody is left to call when those on duty do not answer.")
    on_rota = {each.person_id for rows in found.values() for each in rows if each.person_id is not None}
    known = {person.id: person for person in people}
    out_of_reach = [known[id].name for id in on_rota if id in known and not known[id].ways]
    if out_of_reach:
        said.append(f"There is no way yet to reach {words.names(sorted(out_of_reach), 9)}.")
    if on_rota - known.keys():
        said.append("A turn is somebody's who has no role here or whose account was closed; the latter is not called.")
    for turn in rota.turns:
        if turn.end is None and any(each.step == turn.step and not each.on_holidays for each in rota.patterns):
            who = known[turn.person_id].name if turn.person_id in known else "Somebody"
            said.append(f"{who}'s turn by date has no end, so the weekly turns of that step never come up.")
    if not holidays_kept and any(each.on_holidays for each in rota.patterns):
        said.append("Somebody stands in on holidays, but no country's holidays are chosen.")
    return said


def _between(start: datetime, end: datetime, zone: ZoneInfo, now: datetime) -> str:
    begin = "now" if start == now else moment(start, zone, now).text
    return f"from {begin} on" if end == now + AHEAD else f"from {begin} until {moment(end, zone, now).text}"


def _row(each: Span, rota: Rota, names: Mapping[UUID, str], now: datetime) -> TurnRow:
    why = {"date": "by date", "weekly": "", "holiday": "", None: ""}[each.source]
    if each.source == "holiday":
        why = rota.holidays.get(date.fromordinal(each.number), "holiday")
    name = names.get(each.person_id, "somebody without a role here") if each.person_id else ""
    start = moment(each.start, rota.zone, now) if each.start > now else None
    end = moment(each.end, rota.zone, now) if each.end < now + AHEAD else None
    return TurnRow(start, end, name, why)


def _joined(rows: Sequence[Span]) -> list[Span]:
    """Spans with neighbours of one person and one pattern or turn made one."""
    found: list[Span] = []
    for row in rows:
        before = found[-1] if found else None
        one = before is not None and (before.person_id, before.source_id) == (row.person_id, row.source_id)
        if before is not None and one and row.source != "holiday":
            found[-1] = replace(before, end=row.end)
        else:
            found.append(row)
    return found


def _pattern(pattern: Pattern, names: Mapping[UUID, str], today: date) -> PatternLine:
    listed = " → ".join(names.get(id, "somebody without a role here") for id in pattern.people)
    clock = f"{pattern.hand_over:%H:%M}"
    weeks, rest = divmod(pattern.turn_days, 7)
    length = words.number(weeks, "week") if not rest else words.number(pattern.turn_days, "day")
    if pattern.on_holidays:
        when = f"on holidays, from {clock} to {clock} of the next day"
    elif rest:
        when = f"{length} each, hand-over {clock}"
    else:
        when = f"{length} each, hand-over {_WEEKDAYS[pattern.starts_on.weekday()]} {clock}"
    when += f", since {_day(pattern.starts_on)}" if pattern.starts_on <= today else f", from {_day(pattern.starts_on)}"
    if pattern.ends_on is not None:
        when += f" until {_day(pattern.ends_on)}"
    over = pattern.ends_on is not None and pattern.ends_on < today
    return PatternLine(pattern.id, f"{ordinal(pattern.step)} to be called", listed, when, over)


def _day(day: date) -> str:
    return f"{day.day} {day:%b %Y}"
