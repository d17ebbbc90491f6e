"""What usually leaves a reservoir, by the hour: which days tell it."""

from __future__ import annotations

from datetime import timedelta

import numpy as np
import pytest

from tests.unit.detect.builders import (
    LITRES_PER_MM,
    NOW,
    Course,
    Told,
    drawn,
    facility,
    plus,
    room,
    sawtooth,
    steady,
    steps,
    watered,
)
from wickwatch.detect.sight import Sight

POTS = 6
PLACE = facility(room(pots=POTS))
NOISE = steady(0, 0.3, 5)
BY_DAY_L_PER_H = 3 * LITRES_PER_MM


def usual(level: Course, pots: tuple[Course, ...] = (), days: float = 14.0) -> np.ndarray:
    """Litres an hour by the hour of the facility's day, as of NOW."""
    made = Told(PLACE, interval_s=300.0, days=days).level(0, level)
    for pot, course in enumerate(pots):
        made.tension(pot, course)
    return Sight(made.frame(NOW + timedelta(minutes=5)), PLACE, ()).usual_draw.usual_l_per_h[0]


def test_two_evenings_of_late_tell_more_than_weeks_with_other_lights() -> None:
    """A sensor stood still while lights were set to burn until 22:00; two whole evenings are known."""
    before, late = (plus(drawn(100, by_day=3, by_night=0.5, lights=(6, off)), NOISE) for off in (18, 22))
    level = lambda hours: np.where(hours < -140.0, before(hours), np.where(hours < -84.0, 900.0, late(hours)))  # noqa: E731
    assert usual(level, days=16.0)[20] == pytest.approx(BY_DAY_L_PER_H, rel=0.25)


@pytest.mark.parametrize(
    "drought",
    [
        pytest.param(((-115, 200), (-34, 400)), id="beyond their dry limit of 180 mbar"),
        pytest.param(((-115, 160), (-34, 170)), id="on their way there"),
        pytest.param(((-115, 200), (-90, 600), (-89, 2), (-34, 2)), id="until their probes lost their water"),
    ],
)
def test_hours_in_which_many_containers_stood_in_drought_tell_nothing(drought: tuple[tuple[float, float], ...]) -> None:
    """Two thirds got no water for four days, and the reservoir gave a little more than half."""
    level = drawn(100, by_day=3, by_night=0.5)
    missed = lambda hours: 0.42 * (level(np.full_like(hours, -130.0)) - level(np.clip(hours, -130.0, -34.0)))  # noqa: E731
    works = sawtooth(88, 105)
    starved = steps((-130, 105), *drought, (-32, 90), (0, 100))
    cut_off = lambda hours: np.where((hours > -130.0) & (hours < -34.0), starved(hours), works(hours))  # noqa: E731
    pots = (cut_off,) * 4 + (works,) * 2
    assert usual(plus(level, missed, NOISE), pots)[12] == pytest.approx(BY_DAY_L_PER_H, rel=0.1)


@pytest.mark.parametrize(
    ("dries_h", "least", "most"),
    [pytest.param(6.0, 0.45, 0.55, id="pruned"), pytest.param(3.0, 0.7, 1.05, id="one of two lines cut off")],
)
def test_what_plants_drank_before_they_were_cut_back_is_not_usual_any_more(
    dries_h: float, least: float, most: float
) -> None:
    """Half of it leaves since three days, and the pots dry half as fast; or as fast as before."""
    level = drawn(100, by_day=3, by_night=0.5)
    spared = lambda hours: 0.5 * (level(np.full_like(hours, -76.0)) - level(np.maximum(hours, -76.0)))  # noqa: E731
    before, after = sawtooth(88, 105, 3.0), sawtooth(88, 105, dries_h)
    pots = (lambda hours: np.where(hours < -76.0, before(hours), after(hours)),) * POTS
    assert least <= usual(plus(level, spared, NOISE), pots)[12] / BY_DAY_L_PER_H <= most


@pytest.mark.parametrize("hour", [12, 2])
def test_what_leaked_for_days_is_no_part_of_what_is_usual(hour: int) -> None:
    """One litre an hour did, day and night, from five days ago until one and a half days ago."""
    leaked = lambda hours: -1.0 / LITRES_PER_MM * np.clip(hours + 120.0, 0.0, 84.0)  # noqa: E731
    usually = BY_DAY_L_PER_H if hour == 12 else 0.1 * LITRES_PER_MM
    seen = usual(plus(drawn(420, by_day=3, by_night=0.1), leaked, NOISE))[hour]
    assert seen == pytest.approx(usually, abs=0.15)


def test_a_day_whose_quiet_hours_are_not_known_had_no_leak() -> None:
    """The sensor stood still for four nights: of the days between only hours of light are known."""
    level = plus(drawn(120, by_day=3, by_night=0.1), NOISE)
    dark = lambda hours: (np.mod(hours + 44.0, 24.0) < 14.0) & (hours > -116.0) & (hours < -30.0)  # noqa: E731
    stood = lambda hours: np.where(dark(hours), 500.0, level(hours))  # noqa: E731
    assert usual(stood)[12] == pytest.approx(BY_DAY_L_PER_H, rel=0.1)


def test_what_some_pots_took_for_two_hours_of_the_night_is_no_leak_of_that_day() -> None:
    """Lights burn for 18 hours; in each of four nights four hours were quiet, and two were not."""
    level = drawn(120, by_day=3, by_night=0.1, lights=(4, 22))
    nights = (-111.0, -87.0, -63.0, -39.0)
    taken = lambda hours: -sum(5.0 * np.clip(hours - night, 0.0, 2.0) for night in nights)  # noqa: E731
    assert usual(plus(level, taken, NOISE))[12] == pytest.approx(BY_DAY_L_PER_H, rel=0.1)


def test_what_a_level_that_was_stuck_falls_by_as_it_comes_loose_is_no_draw() -> None:
    """In each of three days it stood still for half a day, and fell by 60 mm and more as it came loose."""
    level = plus(drawn(100, by_day=10, by_night=0.5), NOISE)

    def stuck(hours: np.ndarray) -> np.ndarray:
        values = level(hours)
        for begin in (-136.0, -88.0, -40.0):
            held = (hours > begin) & (hours < begin + 14.0)
            values[held] = values[held][0]
        return values

    made = Told(PLACE, interval_s=300.0, days=14.0).level(0, stuck)
    seen = Sight(made.frame(NOW + timedelta(minutes=5)), PLACE, ()).usual_draw
    assert seen.all_days_differ[0] < 0.2


def test_hours_of_light_taken_away_make_the_others_no_smaller() -> None:
    """Lights burn until noon since three days, and the pots, watered less often, dry half as fast."""
    long, short = (drawn(100, by_day=3, by_night=0.1, lights=(6, off)) for off in (18, 12))
    level = lambda hours: np.where(  # noqa: E731
        hours < -76.0, long(hours) - long(np.full(1, -76.0)) + short(np.full(1, -76.0)), short(hours)
    )
    before, after = sawtooth(88, 105, 3.0), sawtooth(88, 105, 6.0)
    pots = (lambda hours: np.where(hours < -76.0, before(hours), after(hours)),) * POTS
    assert usual(plus(level, NOISE), pots)[9] == pytest.approx(BY_DAY_L_PER_H, rel=0.1)


@pytest.mark.parametrize(
    ("before", "wet"), [pytest.param(sawtooth(88, 105), 4 / 6, id="drink"), pytest.param(steady(95), 0.0, id="rest")]
)
def test_containers_in_which_nothing_drinks_are_no_share_of_the_draw(before: Course, wet: float) -> None:
    """Four of six are wet since yesterday's can; where their plants had been taken out none of them drew before."""
    made = Told(PLACE, interval_s=300.0, days=8.0).level(0, plus(drawn(100, by_day=3, by_night=0.5), NOISE))
    for pot in range(POTS):
        made.tension(pot, watered(-24.0, 95, 30, minutes=6, before=before) if pot < 4 else sawtooth(88, 105))
    seen = Sight(made.frame(NOW + timedelta(minutes=5)), PLACE, ()).usual_draw.wet[0, -1]
    assert seen == pytest.approx(wet, abs=0.05)


@pytest.mark.parametrize(
    ("by_day", "least", "most"),
    [
        pytest.param(tuple(1.15**day for day in range(8)), 0.0, 0.05, id="plants grow by 15 % a day"),
        pytest.param((1.0, 1.5, 0.8, 1.4, 0.9, 1.6, 0.7, 1.2), 0.25, 0.8, id="no day is like another"),
    ],
)
def test_days_that_grow_evenly_do_not_differ(by_day: tuple[float, ...], least: float, most: float) -> None:
    """What left on each of the last eight days, counted from noon to noon, as a share of the first."""
    at = np.arange(-8.0, 1.0) * 24.0
    gone = np.concatenate([[0.0], np.cumsum(by_day)]) * 24.0 * 3.0
    made = Told(PLACE, interval_s=300.0, days=8.0).level(
        0, plus(lambda hours: 800.0 - np.interp(hours, at, gone), NOISE)
    )
    differ = Sight(made.frame(NOW), PLACE, ()).usual_draw.days_differ[0]
    assert least <= differ <= most


def test_a_day_on_which_the_line_was_cut_off_tells_nothing_of_how_much_days_differ() -> None:
    """Next to nothing left on three of the last seven days: they are not in what is usual either."""
    level = drawn(100, by_day=3, by_night=0.1)
    given = lambda hours, at_h: level(np.full_like(hours, at_h)) - level(np.clip(hours, at_h, at_h + 24.0))  # noqa: E731
    missed = lambda hours: 0.95 * sum(given(hours, at_h) for at_h in (-151.0, -103.0, -79.0))  # noqa: E731
    made = Told(PLACE, interval_s=300.0, days=14.0).level(0, plus(level, missed, NOISE))
    assert Sight(made.frame(NOW + timedelta(minutes=5)), PLACE, ()).usual_draw.days_differ[0] <= 0.1


@pytest.mark.parametrize(
    ("leaks", "found"), [pytest.param(0.0, 0, id="as ever"), pytest.param(12.0, 1, id="and much more")]
)
def test_a_room_of_which_half_is_wet_and_that_draws_as_ever_has_no_leak(leaks: float, found: int) -> None:
    """Four of eight pots, which dry a little faster, are wet since last night: what others draw is a guess."""
    place = facility(room(pots=8))
    more = lambda hours: -leaks * np.maximum(hours + 8.0, 0.0)  # noqa: E731
    made = Told(place, interval_s=300.0, days=8.0).level(0, plus(drawn(200, by_day=9, by_night=0.5), more, NOISE))
    for pot in range(8):
        wet = watered(-12.0, 95, 30, minutes=6, before=sawtooth(88, 107))
        made.tension(pot, wet if pot < 4 else sawtooth(88, 105))
    assert len(made.found("reservoir-leak")) == found
