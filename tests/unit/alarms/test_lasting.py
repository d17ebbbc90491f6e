"""What can't be said to be over holds on where somebody was called for it, and begins nothing."""

from __future__ import annotations

from datetime import timedelta

from tests.unit.alarms.places import START, Watch, found, judged, pot, reservoir
from wickwatch.alarms import POLICIES
from wickwatch.alarms.policy import WET_EXPLAINS_UNSEEN

EMPTY = found("reservoir-empty", reservoir())
WET = found("sudden-wetting", pot(1))
LEAK = found("reservoir-leak", reservoir(), harm_at=START + timedelta(hours=60), explained_by=(WET.key,))


def minutes(span: timedelta) -> int:
    return round(span / timedelta(minutes=1))


def test_an_empty_reservoir_that_flickers_stays_one_alarm_until_it_is_clear_and_its_off_delay_has_passed() -> None:
    watch = Watch()
    called: list[str] = []
    for minute in range(0, 600, 5):
        watch.sweep(judged(minute, *((EMPTY,) if minute % 45 < 10 else ()), lasting=frozenset({EMPTY.key})))
        called += watch.called
    assert called == ["R3 east"]
    off = minutes(POLICIES["reservoir-empty"].off_delay)
    watch.sweep(judged(600))
    assert watch.only("reservoir-empty").condition_present
    watch.sweep(judged(600 + off))
    assert not watch.only("reservoir-empty").condition_present


def test_what_is_seen_once_in_hours_is_not_called_because_it_is_not_clear_of_it() -> None:
    watch = Watch()
    called: list[str] = []
    for minute in range(0, 1200, 5):
        watch.sweep(judged(minute, *((EMPTY,) if minute % 600 == 0 else ()), lasting=frozenset({EMPTY.key})))
        called += watch.called
    assert (called, list(watch.all)) == ([], [])


def test_a_leak_that_begins_after_an_emitter_was_closed_is_called_though_its_pot_is_wet_still() -> None:
    watch = Watch()
    for minute in range(0, 60, 5):
        watch.sweep(judged(minute, WET))
    seen = 55
    # What left while water came is the emitter's; looks for a leak reach back over it for hours.
    for minute in range(60, seen + minutes(WET_EXPLAINS_UNSEEN), 5):
        watch.sweep(judged(minute, LEAK, lasting=frozenset({WET.key})))
        assert watch.called == []
    later: list[str] = []
    for minute in range(seen + minutes(WET_EXPLAINS_UNSEEN), seen + minutes(WET_EXPLAINS_UNSEEN) + 30, 5):
        watch.sweep(judged(minute, LEAK, lasting=frozenset({WET.key})))
        later += watch.called
    assert later == ["R3 east"]
    assert watch.only("sudden-wetting").condition_present
