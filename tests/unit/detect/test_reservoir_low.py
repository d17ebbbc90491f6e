"""reservoir-low: hours left by day and night draw, refills cut out, leaks counted in, and its interval."""

from __future__ import annotations

from datetime import timedelta

import numpy as np
import pytest

from tests.unit.detect.builders import LITRES_PER_MM, NOW, Told, drawn, facility, names, plus, room, steady
from wickwatch.fleet import Rules

KIND = "reservoir-low"
PLACE = facility(room())  # lights 06-18, NOW is 13:00 there: 5 hours of light left; empty at 70 mm


def told(course, **more) -> Told:
    return Told(PLACE, **{"days": 5.0, "interval_s": 300.0, **more}).level(0, course)


def test_a_reservoir_that_lasts_beyond_its_hours_is_not_low() -> None:
    # 5 h of day at 10 mm, 12 h of night at 1 mm, then day again: 70 + 62 + 70 mm last 24 h, at 12 % more 70 + 148 mm.
    assert told(drawn(222, by_day=10, by_night=1)).found(KIND) == []


def test_what_lasts_into_the_night_only_if_nothing_grows_is_low() -> None:
    """50 mm until dark: with 51.8 mm more than empty it lasts an hour and more into the night, at 12 % more not."""
    place = facility(room(rules=Rules(low_hours=6)))
    made = Told(place, days=5.0, interval_s=300.0).level(0, drawn(121.8, by_day=10, by_night=1))
    (found,) = made.found(KIND)
    assert found.evidence["hours_left"] > 6.5  # type: ignore[operator]


def test_a_reservoir_that_runs_dry_within_its_hours_is_low() -> None:
    assert names(told(drawn(200, by_day=10, by_night=1)).found(KIND)) == ["Tank 0"]


def test_day_and_night_are_told_apart() -> None:
    """120 mm more than empty: 50 by the end of the light, 12 in the dark, 58 within 5.8 h of the next light."""
    (found,) = told(drawn(190, by_day=10, by_night=1)).found(KIND)
    assert found.evidence["hours_left"] == pytest.approx(5 + 12 + 5.8, abs=0.15)
    assert found.evidence["draw_by_day_l_per_h"] == pytest.approx(10 * LITRES_PER_MM, rel=0.02)
    assert found.evidence["draw_by_night_l_per_h"] == pytest.approx(1 * LITRES_PER_MM, rel=0.1)
    assert found.evidence["draw_l_per_day"] == pytest.approx(132 * LITRES_PER_MM, rel=0.02)
    assert found.evidence["usable_l"] == pytest.approx(120 * LITRES_PER_MM, rel=0.01)
    assert found.harm_at is not None
    assert abs(found.harm_at - (NOW + timedelta(hours=22.8))) < timedelta(minutes=12)


def changing_days(hours):
    """Every other day 5 mm an hour more is drawn, for eight hours, than on the day between."""
    return 120.0 - np.interp(hours, [-108, -100, -60, -52, -12, -4], [0, 40, 40, 80, 80, 120])


def test_the_interval_holds_the_estimate_and_widens_when_days_differ() -> None:
    (calm,) = told(plus(drawn(150, 10, 1), steady(0, 0.5, 1))).found(KIND)
    (noisy,) = told(plus(drawn(150, 10, 1), changing_days)).found(KIND)
    for found in (calm, noisy):
        low, value, high = (found.evidence[f"hours_left{end}"] for end in ("_low", "", "_high"))
        assert low <= value <= high  # type: ignore[operator]

    def width(found) -> float:
        return found.evidence["hours_left_high"] - found.evidence["hours_left_low"]

    assert width(noisy) > width(calm)


def test_a_refill_days_ago_does_not_count_as_negative_draw() -> None:
    def course(hours):
        return drawn(150, 10, 1)(hours) - np.where(hours < -60, 400.0, 0.0)  # 400 mm poured in 60 h ago

    (found,) = told(course).found(KIND)
    assert found.evidence["draw_by_day_l_per_h"] == pytest.approx(10 * LITRES_PER_MM, rel=0.05)


def test_a_refill_just_now_ends_it() -> None:
    def course(hours):
        return drawn(100, 10, 1)(hours) + np.where(hours > -0.4, 500.0, 0.0)

    assert told(course).found(KIND) == []


def test_what_has_been_leaving_for_hours_beyond_usual_is_counted_on() -> None:
    def course(hours):
        return drawn(300, 6, 1)(hours) + 30.0 * np.clip(-hours, 0.0, 7.0)

    # 230 mm left: at 6 or 1 mm an hour some days; with 30 mm an hour more, 180 mm in 5 h of light and 1.6 h of dark.
    (found,) = told(plus(course, steady(0, 0.5, 2)), days=4.5).found(KIND)
    assert found.evidence["hours_left"] == pytest.approx(6.6, abs=0.4)
    assert found.evidence["excess_l_per_h"] == pytest.approx(30 * LITRES_PER_MM, rel=0.1)


def test_what_left_within_one_hour_is_not_counted_on() -> None:
    """A pot whose emitter opened again took 60 mm, half of it in either of the last stretches of three hours."""
    took = lambda hours: 60.0 * np.clip(-2.6 - hours, 0.0, 1.0)  # noqa: E731
    assert told(plus(drawn(280, 6, 1), took, steady(0, 0.5, 2))).found(KIND) == []


def test_a_level_that_was_stuck_is_no_fall_as_it_comes_loose() -> None:
    """It stood still for a day and a half, and has shown the 190 mm that are left since an hour and a half."""
    level = plus(drawn(260, 10, 1), steady(0, 0.5, 2))
    stuck = lambda hours: np.where((hours > -40.0) & (hours < -1.5), 480.0, level(hours))  # noqa: E731
    assert told(stuck).found(KIND) == []


def test_what_pots_ask_for_after_a_drought_is_not_counted_on() -> None:
    """The line is open again since seven hours: its pots stood at 250 mbar, and take 30 mm an hour more."""

    def course(hours):
        return drawn(300, 6, 1)(hours) + 30.0 * np.clip(-hours, 0.0, 7.0)

    made = told(plus(course, steady(0, 0.5, 2)), days=4.5)
    for pot in range(3):
        made.tension(pot, lambda hours: np.where(hours < -7.0, 250.0, 100.0))
    assert made.found(KIND) == []


@pytest.mark.parametrize("less", [0.6, 0.3])
def test_a_draw_that_has_been_less_for_a_day_is_not_counted_on(less: float) -> None:
    """Until a day ago 10 mm an hour left by day, since then 4 or 7: of the 120 mm left 92 go in a day at most."""
    course = lambda hours: drawn(190, 10, 1)(hours) - less * (drawn(0, 10, 1)(np.maximum(hours, -24.0)))  # noqa: E731
    assert told(drawn(190, 10, 1)).found(KIND)
    assert told(course).found(KIND) == []


@pytest.mark.parametrize(("more_mm", "over"), [(0, False), (40, False), (150, True)])
def test_what_was_low_is_so_until_it_holds_enough_for_longer(more_mm: float, over: bool) -> None:
    """132 mm go in a day: it is low with 120 mm left, not quite with 160, and with 270 it is clear of that."""
    made = told(drawn(190 + more_mm, 10, 1)).judge(KIND)
    assert bool(made.findings) is (more_mm == 0)
    assert ((KIND, PLACE.rooms[0].reservoirs[0].id) in made.lasting) is not over


def test_what_was_low_is_over_as_soon_as_it_is_filled() -> None:
    """Somebody poured in 60 mm, which do not last long."""
    filled = told(lambda hours: drawn(170, 10, 1)(hours) + np.where(hours > -0.4, 60.0, 0.0)).judge(KIND)
    assert filled.lasting == frozenset()


def test_its_hours_are_a_rule_of_the_place() -> None:
    place = facility(room(rules=Rules(low_hours=6)))
    made = Told(place, days=8.0, interval_s=300.0).level(0, drawn(190, 10, 1))
    assert made.found(KIND) == []


def test_an_empty_reservoir_is_low_with_nothing_left_and_explained_by_being_empty() -> None:
    (found,) = told(drawn(60, 10, 1)).found(KIND)
    assert found.evidence["hours_left"] == 0.0
    assert found.harm_at is None
    assert found.explained_by[0] == ("reservoir-empty", PLACE.rooms[0].reservoirs[0].id)


def test_without_history_nothing_is_foretold() -> None:
    assert Told(PLACE, days=0.02).level(0, steady(200)).found(KIND) == []


def test_lights_that_never_go_off_have_one_draw() -> None:
    place = facility(room(lights=(6, 6)))
    made = Told(place, days=8.0, interval_s=300.0).level(0, drawn(100, 3, 3))
    (found,) = made.found(KIND)
    assert found.evidence["hours_left"] == pytest.approx(10.0, abs=0.2)


def test_a_photoperiod_over_midnight_counts_its_light_after_midnight() -> None:
    place = facility(room(lights=(20, 8)))
    made = Told(place, days=8.0, interval_s=300.0).level(0, drawn_over_midnight(142))
    (found,) = made.found(KIND)
    # 13:00 now: 7 hours of dark at 1 mm, then 72 - 7 = 65 mm of light at 10 mm an hour.
    assert found.evidence["hours_left"] == pytest.approx(7 + 6.5, abs=0.2)


def drawn_over_midnight(now: float):
    """10 mm an hour from 20:00 to 08:00, 1 mm else."""
    return drawn(now, by_day=1, by_night=10, lights=(8, 20))
