"""probe-fault and uneven-room: instruments that lie, and emitters that are not set alike."""

from __future__ import annotations

from datetime import timedelta

import numpy as np
import pytest

from tests.unit.detect.builders import (
    NOW,
    Course,
    Told,
    drawn,
    facility,
    names,
    plus,
    room,
    sawtooth,
    steady,
    steps,
    worked,
)
from wickwatch.detect import constants as c
from wickwatch.detect.believable import leapt
from wickwatch.detect.faults import roughness
from wickwatch.detect.twins import crept_mbar

FAULT, UNEVEN = "probe-fault", "uneven-room"
PLACE = facility(room(pots=4))
WORKS = plus(sawtooth(88, 105), steady(0, 0.3, 7))


def told(course: Course, **more: object) -> Told:
    made = Told(PLACE, **{"days": 5.0, "interval_s": 60.0, **more})  # type: ignore[arg-type]
    made.tension(0, course)
    for pot in range(1, 4):
        made.tension(pot, plus(WORKS, steady(0.0, 0.2, pot)))
    return made


def since(at_h: float, then: Course) -> Course:
    return lambda hours: np.where(hours < at_h, WORKS(hours), then(hours))


def fault(course: Course, **more: object) -> str | None:
    found = told(course, **more).found(FAULT)
    assert all(each.subject.name == "Pot 0" for each in found)
    return str(found[0].evidence["fault"]) if found else None


@pytest.mark.parametrize("interval_s", [10, 60, 300, 600])
def test_a_probe_that_works_is_believed_at_any_interval(interval_s: float) -> None:
    noisy = plus(sawtooth(88, 105), steady(0, 0.8, 3))
    assert fault(noisy, interval_s=interval_s, days=2.5 if interval_s == 10 else 5.0) is None


def test_a_reading_that_no_medium_has_is_out_of_range() -> None:
    assert fault(since(-0.5, steady(-60, 0.3))) == "reads outside its range"


def test_a_probe_that_shows_one_value_for_hours_has_not_moved() -> None:
    assert fault(since(-3, steady(97.0))) == "has not moved at all"
    assert fault(since(-1.5, steady(97.0))) is None


def test_a_coarse_probe_in_a_sleeping_pot_may_stand_still_as_long_as_it_usually_does() -> None:
    def coarse(hours):
        asleep = np.mod(hours - 13.0, 24.0) > 12.0
        return np.where(asleep, 92.0, np.round(sawtooth(88, 105)(hours)))

    assert fault(coarse) is None


@pytest.mark.parametrize("interval_s", [10, 60, 300, 600])
def test_a_probe_that_jitters_is_found_at_any_interval(interval_s: float) -> None:
    noise = plus(WORKS, steady(0, 15.0, 4))
    assert fault(since(-4, noise), interval_s=interval_s, days=2.5 if interval_s == 10 else 5.0) == "jitters"


def test_air_that_gets_in_is_found_on_the_way_up_at_the_limit_and_on_the_ground() -> None:
    course = since(-6, steps((-6, 95), (-2, 780), (3, 780), (4, 30), (6, 0), (20, 0)))
    made = told(course, later_h=20.0)
    for hours in (-4, -1, 2, 5, 12, 19):
        assert names(made.found(FAULT, as_of=NOW + timedelta(hours=hours))) == ["Pot 0"], hours


def test_a_cup_lifted_out_for_minutes_is_no_fault() -> None:
    moved = plus(WORKS, lambda hours: np.where(hours > -5, 60 * np.exp(-np.maximum(hours + 5, 0) / 0.3), 0.0))
    made = told(moved)
    assert not any(made.found(FAULT, as_of=NOW + timedelta(hours=h)) for h in (-4.0, -3.0, -1.0))


def test_probes_at_their_limit_in_a_drought_are_not_to_blame() -> None:
    made = Told(PLACE, interval_s=300.0, days=6.0)
    for pot in range(4):
        made.tension(pot, steps((-80, 100), (-40, 200), (-10, 600 + 10 * pot), (0, 640)))
    assert made.found(FAULT) == []


def test_two_probes_that_part_are_found_whichever_it_is() -> None:
    place = facility(room(pots=1, twins=True))
    apart = Told(place, interval_s=300.0, days=14.0).tension(0, WORKS)
    apart.twin(0, plus(WORKS, lambda hours: 4.0 * np.maximum(hours / 24 + 8.0, 0.0)))
    (found,) = apart.found(FAULT)
    assert "second probe" in str(found.evidence["fault"])
    alike = Told(place, interval_s=300.0, days=14.0).tension(0, WORKS).twin(0, plus(WORKS, steady(6.0)))
    assert alike.found(FAULT) == []


def test_a_probe_put_right_after_a_drift_has_not_parted_again() -> None:
    place = facility(room(pots=1, twins=True))
    drifted = lambda hours: np.where(hours < -30.0, 6.0 * np.maximum(hours / 24 + 9.0, 0.0), 0.0)  # noqa: E731
    made = Told(place, interval_s=300.0, days=16.0).tension(0, plus(WORKS, drifted)).twin(0, WORKS)
    assert made.found(FAULT, as_of=NOW - timedelta(hours=48))
    assert made.found(FAULT) == []


def test_a_pot_kept_wet_is_not_taken_for_a_probe_without_water() -> None:
    """Its set point is 50 mbar, and its reading leapt below nothing for an hour yesterday."""
    wet = plus(sawtooth(42, 56), steady(0, 0.3, 7))
    assert fault(lambda hours: np.where((hours > -30.0) & (hours < -29.0), -40.0, wet(hours))) is None


def test_a_pot_that_dries_out_until_its_probe_is_at_its_limit_is_not_the_probes_fault() -> None:
    """Dry for a day and a half, ever faster, as a medium dries: its plants are called for."""

    def dries(hours: np.ndarray) -> np.ndarray:
        return np.where(hours < -40.0, WORKS(hours), 100.0 * np.exp(np.maximum(hours + 40.0, 0.0) / 22.0))

    made = told(dries, interval_s=300.0, days=8.0)
    assert made.found("drying-drift")
    assert made.found(FAULT) == []


def test_a_probe_just_replaced_settles() -> None:
    made = told(since(-3, steady(97.0)))
    pot = PLACE.rooms[0].containers[0]
    assert made.found(FAULT, [worked("replaced-probe", pot, hours_ago=4)]) == []


def test_a_level_sensor_that_stands_still_while_pots_drink_is_found() -> None:
    flows = plus(drawn(300, 6, 1), steady(0, 0.5, 2))
    made = Told(PLACE, interval_s=60.0, days=5.0)
    made.level(0, lambda hours: np.where(hours < -4, flows(hours), 324.0))
    (found,) = made.found(FAULT)
    assert (found.subject.type, found.evidence["fault"]) == ("reservoir", "has not moved at all")
    assert Told(PLACE, interval_s=60.0, days=5.0).level(0, flows).found(FAULT) == []


def in_steps(course: Course, step: float, noise: float, seed: int = 1) -> Course:
    """What an instrument of such steps and noise shows."""

    def shown(hours: np.ndarray) -> np.ndarray:
        drawn = course(hours) + noise * np.random.default_rng(seed).standard_normal(len(hours))
        return np.round(drawn / step) * step

    return shown


def test_a_coarse_and_quiet_probe_may_show_one_value_in_a_pot_whose_plant_is_gone() -> None:
    """Read every ten minutes in steps of a mbar with little noise, it only follows the temperature."""
    day = lambda hours: 92.0 + 1.5 * np.sin(hours / 24 * 2 * np.pi)  # noqa: E731
    gone = in_steps(lambda hours: np.where(hours < -30.0, sawtooth(88, 105)(hours), day(hours)), 1.0, 0.15)
    made = told(gone, interval_s=600.0)
    assert not any(made.found(FAULT, as_of=NOW - timedelta(hours=h)) for h in range(0, 25, 2))


def test_a_coarse_and_quiet_probe_that_is_stuck_by_day_is_found_within_hours() -> None:
    stuck = in_steps(lambda hours: np.where(hours < -9.0, sawtooth(88, 105)(hours), 97.0), 1.0, 0.0)
    made = told(stuck, interval_s=600.0, days=8.0)
    assert names(made.found(FAULT)) == ["Pot 0"]


def test_a_probe_that_is_stuck_by_day_need_not_stand_still_for_as_long_as_by_night() -> None:
    """Its nights end eight hours ago; by day its pot drinks and its waterings never rest."""
    by_night = lambda hours: np.mod(hours - 6.0, 24.0) < 10.0  # noqa: E731
    slowly = lambda hours: 92.0 + 0.3 * np.mod(hours - 6.0, 24.0)  # noqa: E731
    shown = in_steps(lambda hours: np.where(by_night(hours), slowly(hours), sawtooth(88, 105)(hours)), 1.0, 0.4)
    made = told(lambda hours: np.where(hours < -3.5, shown(hours), 97.0), interval_s=600.0, days=8.0)
    assert names(made.found(FAULT)) == ["Pot 0"]
    assert told(shown, interval_s=600.0, days=8.0).found(FAULT) == []


def test_a_pot_whose_plant_was_taken_out_yesterday_may_show_one_value_once_it_is_watered() -> None:
    """Its days before moved at these hours, but yesterday did not."""
    gone = lambda hours: np.where(hours < -40.0, sawtooth(88, 105)(hours), 84.0 + 0.8 * np.sin(hours / 2))  # noqa: E731
    course = in_steps(lambda hours: np.where(hours < -8.6, gone(hours), 36.0), 1.0, 0.0)
    assert told(course, interval_s=600.0, days=8.0).found(FAULT) == []


@pytest.mark.parametrize("gone_h", [0.0, 6.0])
def test_a_pot_whose_plant_was_taken_out_just_now_had_slowed_before_it_shows_one_value(gone_h: float) -> None:
    """For two hours; an instrument that gets stuck moves until then."""
    shown = lambda hours: np.where(hours < -2.0 - gone_h, sawtooth(88, 105)(hours), 97.0)  # noqa: E731
    rests = in_steps(shown, 1.0, 0.4)
    made = told(lambda hours: np.where(hours < -2.0, rests(hours), 97.0), interval_s=300.0)
    assert names(made.found(FAULT)) == ([] if gone_h else ["Pot 0"])


def rests(hours: np.ndarray) -> np.ndarray:
    """One value four times in five, read every five minutes."""
    return np.where(np.mod(np.round(hours * 12), 5) == 0, 99.0, 98.0)


@pytest.mark.parametrize(("still_h", "found"), [(2.0, []), (4.0, ["Pot 0"])])
def test_a_probe_that_has_hardly_moved_for_days_must_stand_still_for_longer(still_h: float, found: list[str]) -> None:
    course = lambda hours: np.where(hours < -still_h, rests(hours), 98.0)  # noqa: E731
    assert names(told(course, interval_s=300.0, days=8.0).found(FAULT)) == found


def test_a_coarse_probe_in_the_middle_of_a_step_by_night_is_not_taken_for_stuck() -> None:
    """By night its pot dries by 0.4 mbar an hour and it passes a step in two and a half; tonight it stays in one."""
    in_the_dark = lambda hours: np.mod(hours - 12.0, 24.0) < 12.0  # noqa: E731
    dries = lambda hours: np.where(hours < -12.1, 0.4 * np.mod(hours - 12.0, 24.0), 0.0)  # noqa: E731
    course = lambda hours: np.where(in_the_dark(hours), 92.0 + dries(hours), sawtooth(88, 105)(hours))  # noqa: E731
    made = Told(PLACE, interval_s=60.0, days=6.0).tension(0, in_steps(course, 1.0, 0.15))
    assert made.found(FAULT, as_of=NOW - timedelta(hours=10)) == []


@pytest.mark.parametrize(("noise", "found"), [(0.2, []), (0.5, ["Pot 0"])])
def test_a_probe_whose_steps_hide_its_noise_may_rest_in_the_middle_of_one_by_night(
    noise: float, found: list[str]
) -> None:
    """Tonight its pot was watered late and rests; on other nights it dries by a mbar in an hour and a half."""
    in_the_dark = lambda hours: np.mod(hours - 12.0, 24.0) < 12.0  # noqa: E731
    dries = lambda hours: 92.0 + 0.7 * np.mod(hours - 12.0, 24.0)  # noqa: E731
    course = lambda hours: np.where(in_the_dark(hours), dries(hours), sawtooth(88, 105, dries_h=7.0)(hours))  # noqa: E731
    tonight = lambda hours: np.where(hours < -11.0, in_steps(course, 1.0, noise)(hours), 92.0)  # noqa: E731
    made = Told(facility(room(pots=4)), interval_s=60.0, days=6.0).tension(0, tonight)
    assert names(made.found(FAULT, as_of=NOW - timedelta(hours=9))) == found


def test_a_probe_whose_steps_hide_its_noise_may_rest_in_a_pot_that_stands_in_water() -> None:
    """Its pot drinks at these hours; an emitter is stuck open on it since this morning."""
    drinks = in_steps(sawtooth(88, 105), 1.0, 0.2)
    flooded = in_steps(lambda hours: np.where(hours < -6.0, sawtooth(88, 105)(hours), 8.0), 1.0, 0.2)
    for before, value, found in ((flooded, 8.0, []), (drinks, 97.0, ["Pot 0"])):
        course = lambda hours, before=before, value=value: np.where(hours < -2.0, before(hours), value)  # noqa: E731
        assert names(told(course, days=8.0).found(FAULT)) == found


def test_what_a_probe_showed_before_and_after_a_silent_while_is_no_stillness() -> None:
    made = Told(PLACE, interval_s=300.0, days=5.0)
    made.tension(0, lambda hours: np.where(hours < -6.2, WORKS(hours), 97.0), holes=(-6.0, -0.5))
    assert made.found(FAULT) == []


def test_a_level_sensor_that_was_stuck_last_week_is_found_as_soon_the_next_time() -> None:
    flows = plus(drawn(500, 6, 1), steady(0, 0.5, 2))
    made = Told(PLACE, interval_s=300.0, days=14.0)
    week = lambda hours: np.where((hours > -200.0) & (hours < -140.0), 700.0, flows(hours))  # noqa: E731
    made.level(0, lambda hours: np.where(hours < -3.0, week(hours), 500.0))
    assert [each.subject.type for each in made.found(FAULT)] == ["reservoir"]


def test_a_steep_climb_within_buckets_and_fast_pulses_are_no_jitter() -> None:
    pulses = in_steps(sawtooth(60, 110, dries_h=1.2, wets_h=0.6), 0.5, 0.3)
    for interval_s in (10.0, 600.0):
        assert fault(pulses, interval_s=interval_s, days=2.5) is None


def test_water_that_comes_back_at_once_is_no_jitter() -> None:
    """A dry pot's line gives again: read every ten minutes it falls by a hundred mbar, and wavers before and after."""
    shown = np.array([174.3, 174.0, 175.0, 156.5, 106.4, 75.7, 65.6, 62.4, 62.5])
    every_ten = np.full((1, 18), np.nan, dtype=np.float32)
    every_ten[0, 1::2] = shown
    assert roughness(every_ten, every_ten, every_ten) < c.ROUGH_MBAR
    every_ten[0, 1::2] = 100.0 + 15.0 * np.random.default_rng(4).standard_normal(9)
    assert roughness(every_ten, every_ten, every_ten) >= c.ROUGH_MBAR


@pytest.mark.parametrize(("climb_h", "limit"), [(2.0, 840.0), (10.0, 700.0)])
def test_air_is_found_within_two_hours_and_a_half_however_slowly_it_comes(climb_h: float, limit: float) -> None:
    course = lambda hours: np.where(  # noqa: E731
        hours < 0.0, WORKS(hours), 95.0 + (limit - 95.0) * np.minimum(hours / climb_h, 1.0)
    )
    made = told(course, interval_s=300.0, later_h=3.0)
    assert made.found(FAULT, as_of=NOW) == []
    (found,) = made.found(FAULT, as_of=NOW + timedelta(hours=2.25))
    assert "air gets in" in str(found.evidence["fault"])


def test_a_probe_that_was_filled_again_is_believed_at_once() -> None:
    filled = lambda hours: np.where(hours < -5.04, 0.0, 94.0 + 12.0 * np.maximum(hours + 5.0, 0.0))  # noqa: E731
    made = told(filled, interval_s=60.0)
    assert not any(made.found(FAULT, as_of=NOW - timedelta(hours=h)) for h in (4.5, 4, 3, 2, 1, 0))


def test_a_probe_filled_on_its_way_down_from_its_limit_climbs_no_second_time() -> None:
    filled = steps((-60, 95), (-54, 700), (-48, 700), (-45, 200), (-42, 45), (-40.05, 28), (-40, 88), (-38.2, 112))
    then = lambda hours: np.where(hours < -38.2, filled(hours), 100.0 + 12.0 * np.cos(hours + 38.2))  # noqa: E731
    made = told(since(-60, then), interval_s=300.0, days=18.0, later_h=12.0)
    assert not any(made.found(FAULT, as_of=NOW + timedelta(hours=h)) for h in np.arange(0.0, 12.0, 0.5))


def test_a_climb_is_over_once_the_probe_has_shown_its_pot_for_hours_whatever_comes_then() -> None:
    air = steps((-30, 95), (-25, 720), (-24, 720), (-22, 0), (-6, 0), (-5.9, 95), (0, 92), (0.3, 44), (6, 48))
    made = told(since(-30, air), interval_s=300.0, later_h=6.0)
    assert made.found(FAULT, as_of=NOW - timedelta(hours=10))
    assert not any(made.found(FAULT, as_of=NOW + timedelta(hours=h)) for h in np.arange(0.0, 6.0, 0.5))


def test_a_probe_put_into_another_pot_leaps_and_is_no_fault() -> None:
    moved = lambda hours: WORKS(hours) + np.where(hours < -5, 0.0, 18 + 60 * np.exp(-np.maximum(hours + 5, 0) / 0.3))  # noqa: E731
    made = told(moved, interval_s=60.0)
    assert not any(made.found(FAULT, as_of=NOW - timedelta(minutes=m)) for m in range(0, 301, 10))


def test_a_probe_that_jittered_is_believed_again_once_it_does_not() -> None:
    noise = np.random.default_rng(5)
    jitters = lambda hours: WORKS(hours) + np.where((hours > -45) & (hours < -20), noise.normal(0, 40, len(hours)), 0.0)  # noqa: E731
    made = told(jitters, interval_s=300.0)
    assert made.found(FAULT, as_of=NOW - timedelta(hours=22)) != []
    assert not any(made.found(FAULT, as_of=NOW - timedelta(hours=h)) for h in range(0, 17))


def test_a_probe_that_jittered_hours_ago_is_believed_when_its_pot_dries_as_usual() -> None:
    """It jittered about 62, and its pot is watered at 105: that is no climb of air."""
    noise = np.random.default_rng(5)
    jitters = lambda hours: 62.0 + noise.normal(0, 30, len(hours))  # noqa: E731
    made = told(lambda hours: np.where((hours > -20) & (hours < -4), jitters(hours), WORKS(hours)), interval_s=300.0)
    assert made.found(FAULT, as_of=NOW - timedelta(hours=6)) != []
    assert not any(made.found(FAULT, as_of=NOW - timedelta(hours=h / 4)) for h in range(8))


def test_a_probe_that_jittered_a_day_ago_is_believed_when_its_pot_is_watered_by_hand() -> None:
    """What it climbed while it jittered is over since it has shown for a day what its pot does."""
    noise = np.random.default_rng(5)
    jitters = lambda hours: WORKS(hours) + np.where((hours > -45) & (hours < -26), noise.normal(0, 40, len(hours)), 0.0)  # noqa: E731
    made = told(lambda hours: np.where(hours < -2.0, jitters(hours), 35.0 + 0.5 * hours), interval_s=300.0)
    assert made.found(FAULT, as_of=NOW - timedelta(hours=28)) != []
    assert not any(made.found(FAULT, as_of=NOW - timedelta(hours=h)) for h in (0, 1))


def test_a_pot_watered_after_a_drought_has_not_lost_its_probe() -> None:
    course = steps((-90, 95), (-40, 200), (-20, 640), (-19, 30), (0, 70))
    assert told(course, interval_s=300.0, days=6.0).found(FAULT) == []
    empty = steps((-90, 95), (-40, 200), (-20, 780), (-17, 780), (-14, 40), (-10, 0), (0, 0))
    assert fault(plus(empty, steady(0.0, 0.3, 2)), interval_s=300.0, days=6.0) == "has lost its water"


def test_twins_part_by_creeping_and_not_by_a_leap_in_the_midst_of_a_day() -> None:
    place = facility(room(pots=1, twins=True))
    for at_h in (-30.0, -40.0, -60.0):
        leap = steps((at_h, 0.0), (at_h + 0.1, 16.0))
        made = Told(place, interval_s=300.0, days=14.0).tension(0, WORKS).twin(0, plus(WORKS, leap))
        assert not any(made.found(FAULT, as_of=NOW - timedelta(hours=h)) for h in (0, 5, 11, 17, 22)), at_h


def test_a_probe_put_elsewhere_twice_within_days_has_not_crept_from_its_twin() -> None:
    place = facility(room(pots=1, twins=True))
    twice = steps((-300.0, 0.0), (-299.9, -12.0), (-132.0, -12.0), (-131.9, 0.0), (-48.0, 0.0), (-47.9, 14.0))
    made = Told(place, interval_s=300.0, days=14.0).tension(0, plus(WORKS, twice)).twin(0, WORKS)
    assert not any(made.found(FAULT, as_of=NOW - timedelta(hours=h)) for h in (0, 5, 11, 17, 22))


def test_what_a_probe_crept_is_told_without_what_it_leapt() -> None:
    hours = np.arange(-240.0, 0.0)
    creeps = np.maximum(hours + 72.0, 0.0) / 4.0
    leaps = np.where(hours < -23.0, 0.0, 16.0)
    empty = np.where((hours > -168.0) & (hours < -140.0), 1.0, np.nan)
    other = WORKS(hours)
    for moves, least, most in ((creeps, 10.0, 18.0), (leaps, -1.0, 1.0), (creeps + leaps, 10.0, 18.0)):
        one = np.fmin(other + moves, empty)  # for a day it had lost its water
        crept = crept_mbar(one[np.newaxis].astype(np.float32), other[np.newaxis].astype(np.float32), np.array([234.0]))
        assert least <= crept[0] <= most


def test_twins_tell_nothing_of_each_other_in_a_drought() -> None:
    place = facility(room(pots=1, twins=True))
    dries = lambda hours: np.where(hours < -40.0, WORKS(hours), 100.0 * np.exp(np.maximum(hours + 40.0, 0.0) / 22.0))  # noqa: E731
    limited = lambda hours: np.minimum(dries(hours), 250.0)  # noqa: E731
    made = Told(place, interval_s=300.0, days=14.0).tension(0, dries).twin(0, limited)
    assert made.found(FAULT) == []


HOUSE = facility(room(pots=8))


def uneven(moved: dict[int, float]) -> Told:
    """Eight pots of which some have moved by so much over the last days."""
    made = Told(HOUSE, interval_s=300.0, days=9.0)
    for pot in range(8):
        shift = moved.get(pot, 0.0)

        def course(hours, shift=shift, pot=pot):
            saw = sawtooth(86, 104)(hours + 0.4 * pot) + pot - 3.5
            return saw + shift * np.clip((hours + 72) / 24, 0.0, 1.0)

        made.tension(pot, plus(course, steady(0, 0.3, pot)))
    return made


def test_several_emitters_that_moved_apart_are_named_the_farthest_first() -> None:
    (found,) = uneven({1: 30.0, 4: 20.0, 6: -14.0}).found(UNEVEN)
    assert found.subject.type == "room"
    assert found.evidence["moved"] == 3
    named = [each.rsplit(" ", 1) for each in str(found.evidence["emitters"]).split(", ")]
    assert [name for name, _ in named] == ["Pot 1", "Pot 4", "Pot 6"]
    # Swings are noisy: an emitter's move is told to a few mbar.
    assert [float(moved) for _, moved in named] == pytest.approx([30.0, 20.0, -14.0], abs=3.0)
    assert found.evidence["spread_mbar"] > 1.6 * found.evidence["usual_mbar"]  # type: ignore[operator]


def test_one_that_drifts_alone_does_not_make_a_room_uneven() -> None:
    assert uneven({1: 40.0}).found(UNEVEN) == []


def test_probes_that_creep_do_not_make_a_room_uneven() -> None:
    """Of three that moved two have a second probe that did not."""
    twins = facility(room(pots=8, twins=True))
    made = Told(twins, interval_s=300.0, days=14.0)
    for pot in range(8):
        creep = {1: 30.0, 4: 30.0, 6: -16.0}.get(pot, 0.0)
        saw = lambda hours, pot=pot: sawtooth(86, 104)(hours + 0.4 * pot) + pot - 3.5  # noqa: E731
        moves = lambda hours, creep=creep: creep * np.clip((hours + 120) / 96, 0.0, 1.0)  # noqa: E731
        made.tension(pot, plus(saw, moves, steady(0, 0.3, pot)))
        made.twin(pot, plus(saw, moves if pot == 6 else steady(0.0), steady(0, 0.3, pot + 10)))
    assert names(made.found(FAULT)) == ["Pot 1", "Pot 4"]
    assert made.found(UNEVEN) == []


def test_pots_back_from_a_drought_are_not_uneven() -> None:
    """Half were cut off for a day; their first watering began where the drought left them, the next ones did not."""
    made = Told(HOUSE, interval_s=300.0, days=9.0)
    for pot in range(8):

        def course(hours, pot=pot):
            saw = sawtooth(86, 104)(hours + 0.4 * pot) + pot - 3.5
            dry = np.where((hours > -32) & (hours < -8), 104 + 4 * (hours + 32), saw)
            return dry if pot < 4 else saw

        made.tension(pot, plus(course, steady(0, 0.3, pot)))
    assert made.found(UNEVEN) == []


def test_a_room_that_moves_together_stays_even() -> None:
    assert uneven(dict.fromkeys(range(8), 25.0)).found(UNEVEN) == []


def test_a_room_of_few_probes_is_not_judged() -> None:
    assert told(WORKS, days=9.0).found(UNEVEN) == []


def test_a_probe_that_crept_and_was_put_right_is_no_fault_any_more() -> None:
    place = facility(room(pots=1, twins=True))
    crept = plus(WORKS, lambda hours: np.where(hours < -8, 6.0 * np.maximum(hours / 24 + 8.0, 0.0), 0.0))
    made = Told(place, interval_s=300.0, days=16.0).tension(0, crept).twin(0, WORKS)
    assert made.found(FAULT, as_of=NOW - timedelta(hours=10))
    assert all(made.found(FAULT, as_of=NOW - timedelta(hours=h)) == [] for h in range(5))


def test_an_instrument_just_back_from_silence_is_not_told_by_its_day_alone() -> None:
    """Coarse and quiet; silent for two days, then a day's swings, then the stillness of its night."""

    def swings(hours: np.ndarray) -> np.ndarray:
        noise = 0.4 * np.random.default_rng(5).standard_normal(hours.shape)
        return np.round(sawtooth(88, 105)(hours) + noise)

    night = lambda hours: np.where(hours < -2.5, swings(hours), 97.0)  # noqa: E731
    made = Told(PLACE, interval_s=600.0, days=8.0).tension(0, night, holes=(-62.0, -14.0))
    assert made.found(FAULT) == []


def test_a_probe_filled_again_after_it_lost_its_water_is_believed() -> None:
    fine = np.full((1, 576), 0.5, dtype=np.float32)
    fine[0, -72:] = 97.0
    fine[0, -73] = 40.0  # the five minutes in which it was filled
    hourly = sawtooth(88, 105)(np.arange(504.0))[np.newaxis].astype(np.float32)
    assert not leapt(fine, hourly).any()
    fine[0, :-72] = 40.0
    assert leapt(fine, hourly).all()
