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
from wickwatch.texts import N_, _, capital, date_of, ngettext, time_of_day
from wickwatch.web.views import words
from wickwatch.web.views.times import Moment, moment, span

#: How far ahead turns and gaps are shown.
AHEAD = timedelta(weeks=5)

_ORDER = (
    N_("first"),
    N_("second"),
    N_("third"),
    N_("fourth"),
    N_("fifth"),
    N_("sixth"),
    N_("seventh"),
    N_("eighth"),
    N_("ninth"),
)
_WEEKDAYS = (
    N_("Mondays"),
    N_("Tuesdays"),
    N_("Wednesdays"),
    N_("Thursdays"),
    N_("Fridays"),
    N_("Saturdays"),
    N_("Sundays"),
)


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
    order: str
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
            StepRows(called_heading(step), tuple(_row(each, rota, names, now) for each in _joined(rows)))
            for step, rows in found.items()
        ),
        patterns=tuple(_pattern(each, names, now.astimezone(rota.zone).date()) for each in rota.patterns),
    )


def ordinal(step: int) -> str:
    """The name of a step: first, second and so on."""
    return _(_ORDER[step - 1])


def called_heading(step: int) -> str:
    """The same as a heading: First to be called."""
    return capital(_("%(order)s to be called", order=ordinal(step)))


def _sentence(duty: Duty, facility: Visible) -> str:
    if not duty.first:
        return _("Nobody at %(facility)s can be called now.", facility=facility.name)
    called = words.names([person.name for person in duty.first])
    if duty.fallback:
        return _(
            "Nobody who can be reached is on duty at %(facility)s, so its managers are called: %(names)s.",
            facility=facility.name,
            names=called,
        )
    return ngettext("%(names)s is called first now.", "%(names)s are called first now.", len(duty.first), names=called)


def calls(found: WouldCall, zone: ZoneInfo, now: datetime) -> tuple[Rung, ...]:
    """Who would be called, rung by rung; a rung of which all are in quiet hours has nobody."""
    return tuple(
        Rung(
            _("after %(span)s without an answer", span=span(rung.after)) if rung.after else _("at once"),
            tuple(_called(person, zone, now) for person in rung.people),
            words.names([person.name for person in rung.spared]),
        )
        for rung in found.rungs
    )


def _called(person: OnDuty, zone: ZoneInfo, now: datetime) -> Called:
    ways = [words.WAYS.get(contact.way, contact.way) for contact in person.contacts]
    quiet = moment(person.quiet_until, zone, now) if person.quiet_until else None
    return Called(person.name, _(", then ").join(ways), quiet)


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
        _("Nobody has the duty %(when)s; the managers are called then.", when=_between(start, end, rota.zone, now))
        for start, end in whole
    ]
    for row in _joined(found[min(found)]) if found else ():
        if row.person_id is None and not any(start < row.end and row.start < end for start, end in whole):
            when = _between(row.start, row.end, rota.zone, now)
            said.append(_("Nobody is first to be called %(when)s.", when=when))
    if not duty.managers and not duty.fallback:
        said.append(_("No manager can be reached, so nobody is left to call when those on duty do not answer."))
    on_rota = {each.person_id for rows in found.values() for each in rows if each.person_id is not None}
    known = {person.id: person for person in people}
    out_of_reach = [known[id].name for id in on_rota if id in known and not known[id].ways]
    if out_of_reach:
        said.append(_("There is no way yet to reach %(names)s.", names=words.names(sorted(out_of_reach), 9)))
    if on_rota - known.keys():
        said.append(
            _("A turn is somebody's who has no role here or whose account was closed; the latter is not called.")
        )
    for turn in rota.turns:
        if turn.end is None and any(each.step == turn.step and not each.on_holidays for each in rota.patterns):
            who = known[turn.person_id].name if turn.person_id in known else _("Somebody")
            said.append(
                _("%(who)s's turn by date has no end, so the weekly turns of that step never come up.", who=who)
            )
    if not holidays_kept and any(each.on_holidays for each in rota.patterns):
        said.append(_("Somebody stands in on holidays, but no country's holidays are chosen."))
    return said


def _between(start: datetime, end: datetime, zone: ZoneInfo, now: datetime) -> str:
    begin = _("now") if start == now else moment(start, zone, now).text
    if end == now + AHEAD:
        return _("from %(at)s on", at=begin)
    return _("from %(at)s until %(end)s", at=begin, end=moment(end, zone, now).text)


def _row(each: Span, rota: Rota, names: Mapping[UUID, str], now: datetime) -> TurnRow:
    why = {"date": _("by date"), "weekly": "", "holiday": "", None: ""}[each.source]
    if each.source == "holiday":
        why = rota.holidays.get(date.fromordinal(each.number), _("holiday"))
    name = names.get(each.person_id, _("somebody without a role here")) if each.person_id else ""
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
    listed = " → ".join(names.get(id, _("somebody without a role here")) for id in pattern.people)
    clock = time_of_day(pattern.hand_over)
    weeks, rest = divmod(pattern.turn_days, 7)
    length = ngettext("%(num)s week", "%(num)s weeks", weeks)
    if rest:
        length = ngettext("%(num)s day", "%(num)s days", pattern.turn_days)
    if pattern.on_holidays:
        when = _("on holidays, from %(clock)s to %(clock)s of the next day", clock=clock)
    elif rest:
        when = _("%(span)s each, hand-over %(clock)s", span=length, clock=clock)
    else:
        day = _(_WEEKDAYS[pattern.starts_on.weekday()])
        when = _("%(span)s each, hand-over %(days)s %(clock)s", span=length, days=day, clock=clock)
    begins = date_of(pattern.starts_on)
    when += _(", since %(day)s", day=begins) if pattern.starts_on <= today else _(", from %(day)s", day=begins)
    if pattern.ends_on is not None:
        when += " " + _("until %(at)s", at=date_of(pattern.ends_on))
    over = pattern.ends_on is not None and pattern.ends_on < today
    return PatternLine(pattern.id, _("%(order)s to be called", order=ordinal(pattern.step)), listed, when, over)
