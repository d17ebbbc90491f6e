"""What to do this week, in order of when it is too late, each with why.

Not here: what is to be done about one alarm (`alarms.advice`).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np

from wickwatch.report import words
from wickwatch.report.document import Step
from wickwatch.report.facts import Facts
from wickwatch.report.service import to_service
from wickwatch.report.tension import uneven
from wickwatch.report.water import run_out

#: Run-outs this near are told one by one, the others of the week as one round. Chosen here: the day of the report.
_ONE_BY_ONE = timedelta(hours=36)

#: How far ahead a limit is worth a place on the first page. Chosen here: this week and the next.
_AHEAD = timedelta(days=14)

#: When things without a date of their own should be done, after the week's end. Chosen here.
_PROBES_BY, _UNEVEN_BY, _WRITE_BY = timedelta(days=4), timedelta(days=5), timedelta(days=6)

WEEK = timedelta(days=7)


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
            where = f", {name[each.room_id]}" if each.room_id in name else ""
            yield Doing(
                each.raised_at,
                f"See to {each.subject}{where}: {words.kind(each.kind)}",
                f"{each.message} It still stood at the end.",
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
            yield Doing(early, f"Refill {name} at once", "Nothing that can be used was in it at the end.")
            continue
        yield Doing(
            early,
            f"Refill {name} by {words.day_and_time(early, zone)}",
            f"{words.number(left, 0, 'l')} could be used at the end; at its draw it runs out "
            f"{words.day_and_time(at, zone)}.",
        )
    if later:
        later.sort()
        first, name = later[0]
        rest = [f"{each} by {words.day(at, zone)}" for at, each in later[1:]]
        yield Doing(
            first,
            f"Refill {name} by {words.day_and_time(first, zone)}" + (", then go on round" if rest else ""),
            f"Then {words.listed(rest, 4)}." if rest else "It is the only other one that runs out within the week.",
        )


def _drift(facts: Facts) -> Iterator[Doing]:
    drift, zone = facts.drift, facts.facility.zone
    for number in np.flatnonzero(drift.sure & (drift.to_limit.value <= _AHEAD / timedelta(days=1))):
        container, rules = facts.place.containers[number], facts.place.containers[number].rules
        slope, days = float(drift.slope.value[number]), float(drift.to_limit.value[number])
        at = facts.week.until + timedelta(days=days)
        limit = f"dry limit of {rules.dry_limit_mbar:.0f}" if slope > 0 else f"wet limit of {rules.wet_limit_mbar:.0f}"
        reached = "is already beyond" if days == 0 else f"reaches about {words.day(at, zone)}"
        room = facts.place.rooms[int(facts.place.room_of[number])].name
        span = words.between(float(drift.slope.low[number]), float(drift.slope.high[number]), 1)
        yield Doing(
            at,
            f"Re-set the emitter of {container.name}, {room}, by {words.day(at, zone)}",
            f"Tension goes {'up' if slope > 0 else 'down'} by {words.number(abs(slope), 1)} mbar a day ({span}) and "
            f"{reached} the {limit} mbar.",
        )


def _probes(facts: Facts) -> Iterator[Doing]:
    found = to_service(facts)
    if found:
        names = [f"{each.name} ({each.room})" for each in found]
        yield Doing(
            facts.week.until + _PROBES_BY,
            f"Service {words.counted(len(found), 'sensor', 'sensors')}: {words.listed(names, 4)}",
            f"{found[0].name}: {found[0].why}. What is not measured can't be watched.",
        )


def _uneven(facts: Facts) -> Iterator[Doing]:
    for room in range(len(facts.place.rooms)):
        apart = uneven(facts.place, facts.tension, room)
        if len(apart) > 1:
            parts = [
                f"{facts.place.containers[n].name} {words.signed(float(facts.tension.off_mbar[n]))}" for n in apart
            ]
            yield Doing(
                facts.week.until + _UNEVEN_BY - timedelta(minutes=len(apart)),
                f"Re-set emitters in {facts.place.rooms[room].name}: it is uneven",
                f"Away from the others [mbar]: {words.listed(parts)}.",
            )


def _unrecorded(facts: Facts) -> Iterator[Doing]:
    missed = [each for each in facts.fillings if each.told == "seen, not recorded"]
    if missed:
        yield Doing(
            facts.week.until + _WRITE_BY,
            "Write refills down when they are done",
            f"{words.counted(len(missed), 'refill was', 'refills were')} seen that nobody recorded; what is written "
            "down is known to be help and no fault.",
        )
