"""What follows from a cause is the cause's also before it is found, and after it is over."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from tests.unit.alarms.places import START, Watch, found, judged, line, pot, reservoir, room_id
from wickwatch.alarms import POLICIES
from wickwatch.alarms.policy import HOLD_MOST
from wickwatch.fleet import Subject

CUT = found("supply-interrupted", line())
DRY_1 = found("drying-drift", pot(1), harm_at=START + timedelta(hours=40))
DRY_2 = found("drying-drift", pot(2), harm_at=START + timedelta(hours=40))
MOST, MOST_SILENT = (round(HOLD_MOST[kind] / timedelta(minutes=1)) for kind in ("drying-drift", "probe-silent"))
RELEASE = round(POLICIES["drying-drift"].release / timedelta(minutes=1))


def sweeps(watch: Watch, start: int, end: int, *findings: object, early: tuple[object, ...] = ()) -> list[str]:
    """Sweep every five minutes, `early` among the findings being first signs of something larger; who was called."""
    called: list[str] = []
    for minute in range(start, end + 1, 5):
        judgement = judged(minute, *findings)  # type: ignore[arg-type]
        watch.sweep(replace(judgement, early=frozenset(each.key for each in early)))  # type: ignore[attr-defined]
        called += watch.called
    return called


def test_a_pot_that_may_be_the_first_of_its_line_waits_for_the_line() -> None:
    watch = Watch()
    assert sweeps(watch, 0, 120, DRY_1, DRY_2, early=(DRY_1, DRY_2)) == []
    assert sweeps(watch, 125, 300, DRY_1, DRY_2, CUT) == ["r3-loop"]
    assert {alarm.state for alarm in watch.all.values() if alarm.kind == "drying-drift"} == {"suppressed-by-design"}


def test_it_waits_for_hours_at_most() -> None:
    watch = Watch()
    assert sweeps(watch, 0, MOST - 5, DRY_1, early=(DRY_1,)) == []
    assert sweeps(watch, MOST, MOST, DRY_1, early=(DRY_1,)) == ["Pot 1"]


def test_a_silent_probe_waits_for_its_gateway_for_fewer_hours_than_a_pot_for_its_line() -> None:
    watch, silent = Watch(), found("probe-silent", pot(1))
    assert MOST_SILENT < MOST
    assert sweeps(watch, 0, MOST_SILENT - 5, silent, early=(silent,)) == []
    assert sweeps(watch, MOST_SILENT, MOST_SILENT, silent, early=(silent,)) == ["Pot 1"]


def test_it_calls_at_once_when_the_signs_are_gone_or_its_harm_is_near() -> None:
    watch = Watch()
    assert sweeps(watch, 0, 60, DRY_1, early=(DRY_1,)) == []
    assert sweeps(watch, 65, 65, DRY_1) == ["Pot 1"]


def test_what_called_before_its_cause_was_found_calls_nobody_further() -> None:
    watch = Watch()
    assert sweeps(watch, 0, 60, DRY_1) == ["Pot 1"]
    near = replace(DRY_1, harm_at=START + timedelta(minutes=80))
    assert sweeps(watch, 65, 120, near, CUT) == ["r3-loop"]
    assert watch.only("drying-drift").cause_id == watch.only("supply-interrupted").id


@pytest.mark.parametrize("cause", [CUT, found("reservoir-empty", reservoir())], ids=lambda each: each.kind)
def test_what_is_found_soon_after_its_cause_ended_is_still_explained_and_asks_if_it_stays(cause: object) -> None:
    watch = Watch()
    sweeps(watch, 0, 30, cause)
    off = round(POLICIES[cause.kind].off_delay / timedelta(minutes=1))  # type: ignore[attr-defined]
    sweeps(watch, 35, 40 + off)
    (ended,) = watch.all.values()
    assert ended.cleared_at is not None
    cleared = round((ended.cleared_at - START) / timedelta(minutes=1))
    assert sweeps(watch, 45 + off, cleared + RELEASE - 5, DRY_1) == []
    assert watch.only("drying-drift").cause_id == ended.id
    assert sweeps(watch, cleared + RELEASE, cleared + RELEASE, DRY_1) == ["Pot 1"]


def test_what_is_well_again_by_then_never_asks() -> None:
    watch = Watch()
    called = sweeps(watch, 0, 30, CUT, DRY_1)
    called += sweeps(watch, 35, 180, DRY_1)
    called += sweeps(watch, 185, 600)
    assert called == ["r3-loop"]
    assert watch.only("drying-drift").state == "normal"


def test_long_after_its_end_a_cause_explains_nothing_new() -> None:
    watch = Watch()
    sweeps(watch, 0, 30, CUT)
    over = 35 + round(POLICIES["supply-interrupted"].off_delay / timedelta(minutes=1)) + RELEASE
    sweeps(watch, 35, over)
    assert sweeps(watch, over + 5, over + 20, DRY_1) == ["Pot 1"]


def test_a_probe_that_lied_explains_nothing_that_is_found_after_it_was_put_right() -> None:
    watch = Watch()
    lies = found("probe-fault", pot(1))
    wet = found("sudden-wetting", pot(1), explained_by=(lies.key,))
    off = round(POLICIES["probe-fault"].off_delay / timedelta(minutes=1))
    sweeps(watch, 0, 60, lies)
    sweeps(watch, 65, 70 + off)
    assert sweeps(watch, 75 + off, 75 + off, wet) == ["Pot 1"]


def test_an_uneven_room_that_was_put_right_still_explains_its_pots() -> None:
    watch = Watch()
    uneven = found("uneven-room", Subject("room", room_id(), "Room 3"))
    off = round(POLICIES["uneven-room"].off_delay / timedelta(minutes=1))
    sweeps(watch, 0, 90, uneven)
    sweeps(watch, 95, 100 + off)
    dry = replace(DRY_1, harm_at=START + timedelta(hours=200), explained_by=(uneven.key,))
    assert sweeps(watch, 105 + off, 180 + off, dry) == []


def test_a_room_that_looks_uneven_for_two_days_after_its_line_was_cut_off_asks_nobody() -> None:
    uneven = found("uneven-room", Subject("room", room_id(), "Room 3"), explained_by=(CUT.key,))
    watch = Watch()
    sweeps(watch, 0, 30, CUT)
    off = round(POLICIES["supply-interrupted"].off_delay / timedelta(minutes=1))
    assert sweeps(watch, 35, 40 + off) == []
    assert sweeps(watch, 45 + off, off + 47 * 60, uneven) == []
    assert sweeps(watch, off + 47 * 60, off + 50 * 60, uneven) == ["Room 3"]
