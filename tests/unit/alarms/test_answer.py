"""What people do to alarms, and what they are told when it can't be done."""

from __future__ import annotations

from datetime import datetime, timedelta

import pytest

from tests.unit.alarms.places import START, Watch, found, named, reservoir
from wickwatch.alarms import Act, Alarm, apply
from wickwatch.alarms.policy import OUT_OF_SERVICE_MOST, SHELVE_MOST
from wickwatch.errors import InputError, RefusedError

ME, OTHER = named("me"), named("other")
NOW = START + timedelta(minutes=5)


def unacknowledged() -> Alarm:
    watch = Watch()
    watch.sweeps(0, 2, found("reservoir-empty", reservoir()))
    return watch.only("reservoir-empty")


def test_mine_is_recorded_with_who_and_when() -> None:
    alarm, entry = apply(unacknowledged(), Act("acknowledge"), ME, NOW)
    assert (alarm.state, alarm.acknowledged_by, alarm.acknowledged_at) == ("acknowledged", ME, NOW)
    assert entry is not None and (entry.event, entry.version, entry.person_id) == ("acknowledged", 2, ME)


def test_saying_mine_twice_changes_nothing_but_another_person_is_told() -> None:
    alarm, _ = apply(unacknowledged(), Act("acknowledge"), ME, NOW)
    assert apply(alarm, Act("acknowledge"), ME, NOW + timedelta(minutes=1)) == (alarm, None)
    with pytest.raises(RefusedError, match="somebody else has already acknowledged"):
        apply(alarm, Act("acknowledge"), OTHER, NOW + timedelta(minutes=1))


@pytest.mark.parametrize(
    ("name", "most", "until"),
    [("shelve", SHELVE_MOST, "shelved_until"), ("take-out-of-service", OUT_OF_SERVICE_MOST, "out_of_service_until")],
)
def test_putting_aside_always_has_an_end(name: str, most: timedelta, until: str) -> None:
    alarm = unacknowledged()
    ends: list[datetime | None] = [
        None,
        NOW,
        NOW - timedelta(seconds=1),
        NOW + most + timedelta(seconds=1),
        (NOW + timedelta(hours=1)).replace(tzinfo=None),
    ]
    for end in ends:
        with pytest.raises(InputError, match="ahead"):
            apply(alarm, Act(name, end), ME, NOW)  # type: ignore[arg-type]
    aside, _ = apply(alarm, Act(name, NOW + most), ME, NOW)  # type: ignore[arg-type]
    assert getattr(aside, until) == NOW + most


def test_an_end_in_another_zone_is_the_same_moment() -> None:
    from zoneinfo import ZoneInfo

    until = (NOW + timedelta(hours=2)).astimezone(ZoneInfo("America/Denver"))
    assert apply(unacknowledged(), Act("shelve", until), ME, NOW)[0].shelved_until == NOW + timedelta(hours=2)


def test_taking_it_back_makes_it_ask_again() -> None:
    shelved, _ = apply(unacknowledged(), Act("shelve", NOW + timedelta(hours=1)), ME, NOW)
    alarm, _ = apply(shelved, Act("unshelve"), ME, NOW + timedelta(minutes=1))
    assert (alarm.state, alarm.shelved_until) == ("unacknowledged", None)
    away, _ = apply(alarm, Act("take-out-of-service", NOW + timedelta(days=2)), ME, NOW + timedelta(minutes=2))
    back, _ = apply(away, Act("return-to-service"), ME, NOW + timedelta(minutes=3))
    assert (back.state, back.out_of_service_until) == ("unacknowledged", None)


def test_what_a_state_cannot_take_is_refused_with_what_it_can() -> None:
    with pytest.raises(RefusedError, match="it can be: acknowledged, shelved, taken-out-of-service"):
        apply(unacknowledged(), Act("unshelve"), ME, NOW)


def test_a_note_is_kept_and_has_a_limit() -> None:
    _, entry = apply(unacknowledged(), Act("shelve", NOW + timedelta(hours=1), "pump on order"), ME, NOW)
    assert entry is not None and entry.detail["note"] == "pump on order"
    with pytest.raises(InputError, match="at most 500 characters"):
        apply(unacknowledged(), Act("shelve", NOW + timedelta(hours=1), "x" * 501), ME, NOW)
