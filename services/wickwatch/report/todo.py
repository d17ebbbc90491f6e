"""What to do this week, in order of when it is too late, each with why.

Not here: what is to be done about one alarm (`alarms.advice`).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np

from wickwatch.alarms import said
from wickwatch.report import words
from wickwatch.report.document import Step
from wickwatch.report.facts import Facts
from wickwatch.report.service import to_service
from wickwatch.report.tension import uneven
from wickwatch.report.water import run_out
from wickwatch.texts import N_, _, ngettext

#: Run-outs this near are told one by one, the others of the week as one round. Chosen here: the day of the report.
_ONE_BY_ONE = timedelta(hours=36)

#: How far ahead a limit is worth a place on the first page. Chosen here: this week and the next.
_AHEAD = timedelta(days=14)

#: When things without a date of their own should be done, after the week's end. Chosen here.
_PROBES_BY, _UNEVEN_BY, _WRITE_BY = timedelta(days=4), timedelta(days=5), timedelta(days=6)

WEEK = timedelta(days=7)

#: By whether tension goes up, and whether the limit is passed already.
_DRIFTS: Mapping[tuple[bool, bool], str] = {
    (True, False): N_(
        "Tension goes up by %(slope)s a day (%(span)s) and reaches about %(day)s the dry limit of %(limit)s."
    ),
    (True, True): N_("Tension goes up by %(slope)s a day (%(span)s) and is already beyond the dry limit of %(limit)s."),
    (False, False): N_(
        "Tension goes down by %(slope)s a day (%(span)s) and reaches about %(day)s the wet limit of %(limit)s."
    ),
    (False, True): N_(
        "Tension goes down by %(slope)s a day (%(span)s) and is already beyond the wet limit of %(limit)s."
    ),
}


@dataclass(frozen=True)
class Doing:
    """One thing to do, and until when at the latest."""

    by: datetime
    what: str
    why: str


def steps(facts: Facts, most: int = 5) -> tuple[Step, ...]:
    """The first things to do."""
    found = [*_alarms(facts), *_water(facts), *_drift(facts), *_probes(facts), *_uneven(facts), *_unrecorded(facts)]
    return tuple(Step(each.what, each.why) for each in sorted(found, key=lambda each: each.by)[:most])


def _alarms(facts: Facts) -> Iterator[Doing]:
    """What called somebody with high priority and still stood when the week ended."""
    name = {room.id: room.name for room in facts.place.rooms}
    for each in facts.alarms:
        stands = each.closed_at is None or each.closed_at >= facts.week.until
        if each.priority == "high" and each.cause_kind is None and stands:
            where = f"{each.subject}, {name[each.room_id]}" if each.room_id in name else each.subject
            yield Doing(
                each.raised_at,
                _("See to %(where)s: %(kind)s", where=where, kind=words.kind(each.kind)),
                _("%(message)s It still stood at the end.", message=said(each)),
            )


def _water(facts: Facts) -> Iterator[Doing]:
    zone, water = facts.facility.zone, facts.water
    later: list[tuple[datetime, str]] = []
    for number, reservoir in enumerate(facts.place.reservoirs):
        found = run_out(water, number, facts.week)
        if found is None or found[1] >= facts.week.until + WEEK:
            continue
        at, early = found
        name = f"{reservoir.name}, {facts.place.rooms[int(facts.place.reservoir_room[number])].name}"
        if early >= facts.week.until + _ONE_BY_ONE:
            later.append((early, name))
            continue
        left = float(water.left_l[number])
        if left <= 0.0:
            yield Doing(
                early,
                _("Refill %(name)s at once", name=name),
                _("Nothing that can be used was in it at the end."),
            )
            continue
        yield Doing(
            early,
            _("Refill %(name)s by %(time)s", name=name, time=words.day_and_time(early, zone)),
            _(
                "%(water)s could be used at the end; at its draw it runs out %(time)s.",
                water=words.number(left, 0, "l"),
                time=words.day_and_time(at, zone),
            ),
        )
    if later:
        later.sort()
        first, name = later[0]
        values = {"name": name, "time": words.day_and_time(first, zone)}
        rest = [_("%(name)s by %(time)s", name=each, time=words.day(at, zone)) for at, each in later[1:]]
        if rest:
            what = _("Refill %(name)s by %(time)s, then go on round", **values)
            yield Doing(first, what, _("Then %(names)s.", names=words.listed(rest, 4)))
        else:
            what = _("Refill %(name)s by %(time)s", **values)
            yield Doing(first, what, _("It is the only other one that runs out within the week."))


def _drift(facts: Facts) -> Iterator[Doing]:
    drift, zone = facts.drift, facts.facility.zone
    for number in np.flatnonzero(drift.sure & (drift.to_limit.value <= _AHEAD / timedelta(days=1))):
        container, rules = facts.place.containers[number], facts.place.containers[number].rules
        slope, days = float(drift.slope.value[number]), float(drift.to_limit.value[number])
        at = facts.week.until + timedelta(days=days)
        room = facts.place.rooms[int(facts.place.room_of[number])].name
        low, high = float(drift.slope.low[number]), float(drift.slope.high[number])
        text = _DRIFTS[slope > 0, days == 0.0]
        why = _(
            text,
            slope=words.number(abs(slope), 1, "mbar"),
            span=words.between(low, high, 1, "mbar"),
            day=words.day(at, zone),
            limit=words.number(rules.dry_limit_mbar if slope > 0 else rules.wet_limit_mbar, 0, "mbar"),
        )
        what = _(
            "Re-set the emitter of %(name)s, %(room)s, by %(day)s",
            name=container.name,
            room=room,
            day=words.day(at, zone),
        )
        yield Doing(at, what, why)


def _probes(facts: Facts) -> Iterator[Doing]:
    found = to_service(facts)
    if found:
        names = [f"{each.name} ({each.room})" for each in found]
        yield Doing(
            facts.week.until + _PROBES_BY,
            ngettext(
                "Service %(num)d sensor: %(names)s",
                "Service %(num)d sensors: %(names)s",
                len(found),
                names=words.listed(names, 4),
            ),
            _("%(name)s: %(why)s. What is not measured can't be watched.", name=found[0].name, why=found[0].why),
        )


def _uneven(facts: Facts) -> Iterator[Doing]:
    for room in range(len(facts.place.rooms)):
        apart = uneven(facts.place, facts.tension, room)
        if len(apart) > 1:
            parts = [
                f"{facts.place.containers[n].name} {words.signed_bare(float(facts.tension.off_mbar[n]), 0, 'mbar')}"
                for n in apart
            ]
            yield Doing(
                facts.week.until + _UNEVEN_BY - timedelta(minutes=len(apart)),
                _("Re-set emitters in %(room)s: it is uneven", room=facts.place.rooms[room].name),
                _(
                    "Away from the others [%(unit)s]: %(names)s.",
                    unit=words.unit_name("mbar"),
                    names=words.listed(parts),
                ),
            )


def _unrecorded(facts: Facts) -> Iterator[Doing]:
    missed = [each for each in facts.fillings if each.told == "seen, not recorded"]
    if missed:
        yield Doing(
            facts.week.until + _WRITE_BY,
            _("Write refills down when they are done"),
            ngettext(
                "%(num)d refill was seen that nobody recorded; what is written down is known as help and no fault.",
                "%(num)d refills were seen that nobody recorded; what is written down is known as help and no fault.",
                len(missed),
            ),
        )
