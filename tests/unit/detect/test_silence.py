"""probe-silent and gateway-silent: their limits, what is new, what explains what."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta

import pytest

from tests.unit.detect.builders import NOW, Told, facility, gateway, ident, names, room, steady
from wickwatch.detect import Finding
from wickwatch.fleet import Facility, Gateway

PROBE, GATEWAY = "probe-silent", "gateway-silent"


def told(place: Facility, until_h: float | None, **more: object) -> Told:
    made = Told(place, **more).tension(0, steady(100), until_h=until_h)  # type: ignore[arg-type]
    return made.tension(1, steady(100)).level(0, steady(500))


@pytest.mark.parametrize(
    ("interval_s", "silent_min", "found"),
    [
        (60, 15, False),  # the least of 15 minutes, not exceeded
        (60, 16, True),
        (10, 14, False),
        (10, 16, True),
        (600, 29, False),  # three intervals of ten minutes
        (600, 31, True),
        (None, 14, False),  # interval not known yet
        (None, 16, True),
    ],
)
def test_a_probe_is_silent_after_three_of_its_intervals_and_never_before_a_quarter_hour(
    interval_s: float | None, silent_min: float, found: bool
) -> None:
    place = facility(room(interval_s=interval_s))
    assert names(told(place, -silent_min / 60).found(PROBE)) == (["Pot 0"] if found else [])


def test_a_silent_probe_says_when_it_was_last_heard_and_by_which_gateway() -> None:
    (found,) = told(facility(room()), -2.0).found(PROBE)
    assert found.evidence["last_at"] == "2026-11-20T10:00:00Z"
    assert found.evidence["last_value"] == 100.0
    assert found.evidence["silent_minutes"] == 120.0
    assert found.evidence["allowed_minutes"] == 15.0
    assert found.since == NOW - timedelta(hours=2)
    assert found.explained_by == ((GATEWAY, ident("gw-01")),)


def test_a_probe_never_heard_is_new_and_not_silent() -> None:
    place = facility(room())
    judged = Told(place).tension(0, steady(100)).judge(PROBE)
    assert judged.findings == ()
    assert (PROBE, place.rooms[0].containers[1].id) in judged.unknown


def test_a_silent_level_sensor_is_found_on_its_reservoir() -> None:
    assert names(Told(facility(room())).level(0, steady(500), until_h=-1.0).found(PROBE)) == ["Tank 0"]


def test_a_silent_twin_is_found_on_its_container_once() -> None:
    made = Told(facility(room(twins=True))).tension(0, steady(100)).twin(0, steady(101), until_h=-1.0)
    (found,) = made.found(PROBE)
    assert (found.subject.name, found.evidence["twin"]) == ("Pot 0", True)


def test_a_probe_just_attached_has_its_time_before_it_is_silent() -> None:
    made = room()
    pots = list(made.containers)
    assert pots[0].tension is not None
    fresh = replace(pots[0].tension, since=NOW - timedelta(minutes=5))
    place = facility(replace(made, containers=(replace(pots[0], tension=fresh), *pots[1:])))
    assert told(place, -3.0).found(PROBE) == []


def silent(place: Facility, until_h: float = -1.0) -> list[Finding]:
    made = Told(place)
    for pot in range(3):
        made.tension(pot, steady(100), until_h=until_h)
    return made.level(0, steady(500), until_h=until_h).found(GATEWAY)


def one(
    heard_min: float | None, status: str | None = None, status_min: float = 0.0, interval_s: float = 60.0
) -> Facility:
    def ago(minutes: float) -> datetime:
        return NOW - timedelta(minutes=minutes)

    heard = None if heard_min is None else ago(heard_min)
    made: Gateway = gateway(heard=heard, status=status, status_at=None if status is None else ago(status_min))
    return facility(room(interval_s=interval_s), gateways=(made,))


@pytest.mark.parametrize(
    ("place", "found"),
    [
        (one(heard_min=9), False),
        (one(heard_min=11), True),
        (one(heard_min=29, interval_s=600), False),  # three readings of its busiest channel
        (one(heard_min=31, interval_s=600), True),
        (one(heard_min=15, status="offline", status_min=12), True),
        (one(heard_min=15, status="offline", status_min=8), False),
        (one(heard_min=1, status="offline", status_min=12), False),  # came back without a birth message
        (one(heard_min=30, status="online", status_min=2), True),
    ],
)
def test_a_gateway_is_silent_when_nothing_came_or_it_said_so_for_its_time(place: Facility, found: bool) -> None:
    assert names(silent(place)) == (["gw-01"] if found else [])


def test_without_an_arrival_time_the_newest_reading_is_the_sign_of_life() -> None:
    """A backtest: what the gateway is known to have done later than the moment must not count."""
    later = facility(room(), gateways=(gateway(heard=NOW + timedelta(days=3)),))
    assert names(silent(later)) == ["gw-01"]
    assert silent(later, until_h=-0.1) == []


@pytest.mark.parametrize(("others_min", "waits"), [(0, False), (5, False), (10, True), (15, True)])
def test_a_silent_probe_waits_while_its_whole_gateway_is_overdue(others_min: float, waits: bool) -> None:
    """It lost a reading before the others fell silent: three intervals are over for it and not yet for its gateway."""
    place = one(heard_min=None, interval_s=300)
    made = Told(place, interval_s=300).tension(0, steady(100), until_h=-20 / 60)
    judged = made.tension(1, steady(100), until_h=-others_min / 60).judge(PROBE)
    assert names(judged.findings) == ["Pot 0"]
    assert judged.early == ({judged.findings[0].key} if waits else set())


def test_once_its_gateway_is_silent_a_probe_waits_for_no_early_sign() -> None:
    made = Told(one(heard_min=None, interval_s=300), interval_s=300)
    assert made.tension(0, steady(100), until_h=-20 / 60).judge(PROBE).early == frozenset()


def test_a_gateway_that_nothing_depends_on_calls_nobody() -> None:
    spare = gateway("gw-02", heard=NOW - timedelta(days=2))
    assert silent(facility(room(), gateways=(gateway(), spare))) == []


def test_a_gateway_never_heard_is_new() -> None:
    assert Told(one(heard_min=None)).found(GATEWAY) == []


def test_an_empty_facility_is_judged_and_nothing_is_found() -> None:
    for kind in (PROBE, GATEWAY, "reservoir-empty"):
        judged = Told(facility()).judge(kind)  # type: ignore[arg-type]
        assert (judged.findings, judged.unknown, judged.judged) == ((), frozenset(), {kind})
