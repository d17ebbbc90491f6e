"""Out of service: what a part covers, what becomes of alarms there, and what its end brings back."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from uuid import UUID

import pytest

from tests.unit.alarms.places import GATEWAY, HOUSE, START, Watch, found, line, named, pot, reservoir, room_id
from wickwatch.alarms import Act, PartType, Period, apply
from wickwatch.alarms.service import covered, covering
from wickwatch.errors import RefusedError
from wickwatch.fleet import Subject

ME, OTHER = named("me"), named("other")
EMPTY = found("reservoir-empty", reservoir())
DRYING = found("drying-drift", pot(), harm_at=START + timedelta(hours=2))
ROOM = Subject("room", room_id(), "Room 3")
ON_LINE = {pot(1).id, pot(2).id}


def period(type: PartType, part: Subject, start: float, end: float) -> Period:
    since, until = START + timedelta(minutes=start), START + timedelta(minutes=end)
    return Period(named(f"{type} {start} {end}"), type, part.id, part.name, since, until, "cleaning", ME)


@pytest.mark.parametrize(
    ("type", "part", "everything"),
    [
        ("container", pot(), {pot().id}),
        ("line", line(), {line().id, *ON_LINE}),
        ("reservoir", reservoir(), {reservoir().id, line().id, *ON_LINE}),
        ("room", ROOM, {ROOM.id, reservoir().id, line().id, *ON_LINE}),
        ("gateway", GATEWAY, {GATEWAY.id}),
        ("device", Subject("device", named("probe"), "urn:x:31"), {pot(1).id}),
        ("device", Subject("device", named("sensor"), "urn:x:39"), {reservoir().id}),
        ("device", Subject("device", named("unused"), "urn:x:77"), set()),
        ("container", Subject("container", named("gone"), "Pot 9"), set()),
    ],
    ids=lambda value: value if isinstance(value, str) else getattr(value, "name", ""),
)
def test_a_part_takes_with_it_what_stands_on_it(type: PartType, part: Subject, everything: set[UUID]) -> None:
    assert covered(HOUSE, type, part.id, part.name) == everything


def test_a_period_holds_from_its_beginning_to_its_end_or_until_somebody_ends_it() -> None:
    one = period("container", pot(), 0, 60)
    assert one.holds(START) and not one.holds(START + timedelta(minutes=60))
    ended = replace(one, ended_at=START + timedelta(minutes=20), ended_by=OTHER)
    assert ended.holds(START + timedelta(minutes=19)) and not ended.holds(START + timedelta(minutes=20))
    longer = period("room", ROOM, 0, 90)
    assert covering(HOUSE, [longer, one], START)[pot().id] == longer


def test_an_open_alarm_under_maintenance_is_put_out_of_service_and_what_arises_there_calls_nobody() -> None:
    watch = Watch()
    watch.sweeps(0, 2, EMPTY)
    watch.periods = [period("room", ROOM, 3, 60)]
    watch.sweeps(3, 59, EMPTY, DRYING)
    alarms = [watch.only("reservoir-empty"), watch.only("drying-drift")]
    assert {(a.state, a.out_of_service_until, a.service_id) for a in alarms} == {
        ("out-of-service", START + timedelta(minutes=60), watch.periods[0].id)
    }
    assert watch.called == [] and watch.only("drying-drift").called_at is None
    watch.sweep_at(60, EMPTY, DRYING)
    assert watch.only("reservoir-empty").state == "unacknowledged"
    assert watch.only("drying-drift").state == "suppressed-by-design", "its cause calls for both"
    assert watch.called == ["R3 east"]


def test_what_is_over_by_the_end_of_maintenance_calls_nobody() -> None:
    watch = Watch()
    watch.periods = [period("container", pot(), 0, 200)]
    watch.sweeps(0, 20, DRYING)
    watch.sweeps(21, 201)
    assert (watch.only("drying-drift").state, watch.called) == ("normal", [])


def test_ended_before_its_end_it_comes_back_and_says_who_brought_it_back() -> None:
    watch = Watch()
    watch.periods = [period("line", line(), 0, 200)]
    watch.sweeps(0, 20, DRYING)
    watch.periods = [replace(watch.periods[0], ended_at=START + timedelta(minutes=21), ended_by=OTHER)]
    watch.sweep_at(21, DRYING)
    assert [(e.event, e.person_id) for e in watch.last.journal] == [("returned-to-service", OTHER)]
    assert watch.called == ["Pot 1"]


def test_a_longer_period_takes_over_from_one_that_ends() -> None:
    watch = Watch()
    watch.periods = [period("container", pot(), 0, 30), period("room", ROOM, 20, 90)]
    watch.sweeps(0, 89, DRYING)
    alarm = watch.only("drying-drift")
    assert (alarm.state, alarm.out_of_service_until) == ("out-of-service", START + timedelta(minutes=90))
    assert alarm.called_at is None


def test_an_alarm_is_not_brought_back_alone_from_a_part_that_is_out_of_service() -> None:
    watch = Watch()
    watch.periods = [period("container", pot(), 0, 60)]
    watch.sweeps(0, 20, DRYING)
    with pytest.raises(RefusedError, match="what it belongs to"):
        apply(watch.only("drying-drift"), Act("return-to-service"), ME, START + timedelta(minutes=20))
