"""One cause is told once though it comes and goes, shows in one pot after another, or blinds its own probe."""

from __future__ import annotations

from datetime import timedelta

from tests.unit.alarms.places import START, Watch, found, line, named, pot, work
from wickwatch.alarms import Act, apply

LATER = START + timedelta(days=9)
FIRST = found("drying-drift", pot(1), harm_at=LATER)
TODAY = START + timedelta(hours=10)
HOUR = 60


def mine(watch: Watch, minute: int) -> None:
    """Somebody says "mine" to all that waits for it."""
    for alarm in list(watch.book.alarms.values()):
        if alarm.state == "unacknowledged":
            watch.put(apply(alarm, Act("acknowledge"), named("me"), START + timedelta(minutes=minute))[0])


def told(watch: Watch) -> list[str]:
    """What the last sweep calls for, and not only holds back."""
    asking = {entry.alarm_id for entry in watch.last.journal if entry.detail.get("call")}
    return [alarm.subject.name for alarm in watch.last.alarms if alarm.id in asking]


def test_what_somebody_has_and_nobody_mended_comes_back_within_a_day_without_another_call() -> None:
    watch = Watch()
    watch.sweeps(0, 10, FIRST)
    mine(watch, 11)
    watch.sweeps(20, 20 * HOUR, every=10)
    watch.sweeps(20 * HOUR + 10, 21 * HOUR, FIRST, every=10)
    assert [alarm.state for alarm in watch.all.values()] == ["acknowledged"]
    watch.sweeps(21 * HOUR + 10, 45 * HOUR + 10, every=10)
    assert watch.only("drying-drift").state == "normal"


def test_a_cut_line_that_looks_better_by_night_is_not_called_again_in_the_morning() -> None:
    watch = Watch()
    cut = found("supply-interrupted", line())
    watch.sweeps(0, 10, cut)
    mine(watch, 11)
    watch.sweeps(20, 11 * HOUR, every=10)
    watch.sweeps(11 * HOUR + 10, 12 * HOUR, cut, every=10)
    assert [alarm.state for alarm in watch.all.values()] == ["acknowledged"]


def test_what_was_mended_is_over_as_soon_as_it_is_gone() -> None:
    watch = Watch()
    watch.work = [work("re-set-emitter", pot(1), 30)]
    watch.sweeps(0, 10, FIRST)
    mine(watch, 11)
    watch.sweeps(100, 160, every=10)
    assert watch.only("drying-drift").state == "normal"


def test_what_nobody_has_is_over_as_soon_as_it_is_gone() -> None:
    watch = Watch()
    watch.sweeps(0, 10, FIRST)
    watch.sweeps(20, 80, every=10)
    assert watch.only("drying-drift").state == "returned-unacknowledged"


def test_a_pot_whose_limit_is_days_off_is_called_for_a_day_and_a_half_later() -> None:
    watch = Watch()
    watch.sweeps(0, 10, FIRST)
    assert (told(watch), watch.only("drying-drift").state) == ([], "unacknowledged"), "it is on the pages at once"
    watch.sweeps(20, 36 * HOUR, FIRST, every=10)
    assert told(watch) == []
    watch.sweep_at(36 * HOUR + 10, FIRST)
    assert told(watch) == ["Pot 1"]


def test_a_pot_is_called_for_as_soon_as_its_limit_is_due_within_the_day() -> None:
    watch = Watch()
    watch.sweeps(0, 10, FIRST)
    watch.sweep_at(20, found("drying-drift", pot(1), harm_at=TODAY))
    assert told(watch) == ["Pot 1"]


def test_another_pot_of_the_room_waits_for_half_a_day_and_is_not_forgotten() -> None:
    watch = Watch()
    first, second = (found("drying-drift", pot(n), harm_at=START + timedelta(hours=20)) for n in (1, 2))
    watch.sweeps(0, 10, first)
    assert told(watch) == ["Pot 1"]
    mine(watch, 11)
    watch.sweeps(60, 12 * HOUR, first, second, every=10)
    assert told(watch) == []
    watch.sweep_at(12 * HOUR + 10, first, second)
    assert told(watch) == ["Pot 2"]


def test_a_pot_at_its_dry_limit_waits_for_no_other() -> None:
    watch = Watch()
    first, now = found("drying-drift", pot(1), harm_at=TODAY), found("drying-drift", pot(2), harm_at=START)
    watch.sweeps(0, 10, first)
    mine(watch, 11)
    watch.sweeps(20, 30, first, now)
    assert told(watch) == ["Pot 2"]


def test_a_pot_of_another_room_does_not_wait() -> None:
    watch = Watch()
    first = found("drying-drift", pot(1), harm_at=TODAY)
    watch.sweeps(0, 10, first)
    watch.sweeps(20, 30, first, found("drying-drift", pot(1, room=4), room=4, harm_at=TODAY))
    assert told(watch) == ["Pot 1"]


def test_a_probe_that_lost_its_water_ends_no_drought_and_is_told_a_day_later() -> None:
    watch = Watch()
    watch.sweeps(0, 10, FIRST)
    mine(watch, 11)
    empty = found("probe-fault", pot(1), explained_by=(FIRST.key,), fault="has lost its water", hours=5.5)
    watch.sweeps(20, 40, FIRST, empty)
    assert watch.only("probe-fault").state == "suppressed-by-design"
    watch.sweeps(50, 24 * HOUR + 40, empty, every=10)
    assert watch.only("probe-fault").state == "suppressed-by-design"
    watch.sweep_at(24 * HOUR + 50, empty)
    assert told(watch) == ["Pot 1"]
    assert watch.only("drying-drift").state == "acknowledged", "what it shows can't be believed"


def test_a_fault_of_a_probe_that_flickers_ends_no_drought() -> None:
    watch = Watch()
    watch.sweeps(0, 10, FIRST)
    mine(watch, 11)
    empty = found("probe-fault", pot(1), explained_by=(FIRST.key,), fault="has lost its water", hours=5.5)
    watch.sweeps(20, 24 * HOUR, empty, every=10)
    watch.sweep_at(24 * HOUR + 10)
    watch.sweeps(24 * HOUR + 20, 26 * HOUR, empty, every=10)
    assert watch.only("drying-drift").state == "acknowledged", "its probe was believed for a moment"
