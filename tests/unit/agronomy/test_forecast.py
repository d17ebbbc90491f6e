"""Draw by day and night, and when water or time runs out."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from wickwatch.agronomy import draw, forecast
from wickwatch.agronomy.arrays import Interval
from wickwatch.errors import InputError

hours_of_day = st.floats(0.0, 24.0)
rates = st.one_of(st.just(0.0), st.floats(1e-6, 20.0))


def _sure(rate: float) -> Interval:
    return Interval(*(np.array(rate) for _ in range(3)))


def test_light_hours_count_only_the_light() -> None:
    assert draw.light_hours([-24.0, 0.0, 6.0, 12.0, 20.0, 24.0, 30.0], 12.0).tolist() == [-12, 0, 6, 12, 12, 12, 18]
    assert draw.light_hours([5.0, 30.0], 24.0).tolist() == [5.0, 30.0]
    assert draw.light_hours([5.0, 30.0], 0.0).tolist() == [0.0, 0.0]


def _two_reservoirs() -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return volumes of two reservoirs drawn 3 and 0.4 l/h by day and night, the second filled half-way."""
    hours = np.arange(0.0, 72.0, 0.25)
    light = draw.light_hours(hours, 14.0)
    volume = 300.0 - 3.0 * light - 0.4 * (hours - light)
    filled = np.where(hours < 40.0, volume, volume + 120.0)
    segment = np.zeros((2, len(hours)), dtype=int)
    segment[1, hours >= 40.0] = 1
    return hours, np.stack([volume, filled]), segment


def test_draw_by_day_and_by_night_is_found_across_refills() -> None:
    hours, volumes, segment = _two_reservoirs()
    noisy = volumes + np.random.default_rng(13).normal(0.0, 0.5, volumes.shape)
    noisy[:, ::17] = np.nan
    found = draw.day_and_night_draw(noisy, hours, 14.0, segment)
    assert found.day.value == pytest.approx([3.0, 3.0], abs=0.02)
    assert found.night.value == pytest.approx([0.4, 0.4], abs=0.03)
    assert ((found.day.low < 3.0) & (found.day.high > 3.0)).all()
    assert ((found.night.low < 0.4) & (found.night.high > 0.4)).all()
    assert found.sigma_l == pytest.approx([0.5, 0.5], rel=0.15)


def test_readings_of_the_light_alone_say_nothing_of_the_night() -> None:
    hours, volumes, segment = _two_reservoirs()
    lit = np.where(np.mod(hours, 24.0) <= 14.0, np.floor_divide(hours, 24.0).astype(int), -1)
    found = draw.day_and_night_draw(volumes[:1], hours, 14.0, lit[None, :])
    assert found.day.value == pytest.approx([3.0], abs=1e-4)
    assert np.isnan(found.night.value).all()
    nothing = draw.day_and_night_draw(volumes, hours, 14.0, np.full_like(segment, -1))
    assert np.isnan([nothing.day.value, nothing.night.value]).all()


def test_between_refills_a_rate_that_no_hour_tells_of_is_the_other() -> None:
    hours, volumes, _ = _two_reservoirs()
    refilled = np.abs(hours - 40.0) < 0.2
    day, night = draw.draw_between_refills(volumes, hours, 14.0, np.stack([hours < 0.0, refilled]))
    assert day.value == pytest.approx([3.0, 3.0], abs=1e-4)
    assert night.value == pytest.approx([0.4, 0.4], abs=1e-4)
    lit = np.mod(hours, 24.0) <= 14.0
    day, night = draw.draw_between_refills(np.where(lit, np.nan, volumes), hours, 14.0, np.stack([lit, lit]))
    assert night.value == pytest.approx([0.4, 0.4], abs=1e-4)
    assert np.stack(day.ends) == pytest.approx(np.stack(night.ends))
    day, night = draw.draw_between_refills(volumes[:1], hours, 24.0, np.zeros((1, len(hours)), dtype=bool))
    assert np.stack(night.ends) == pytest.approx(np.stack(day.ends))


@given(st.floats(0.1, 500.0), rates, rates, hours_of_day, hours_of_day)
def test_the_volume_drawn_until_it_is_gone_is_that_volume(
    volume: float, day: float, night: float, hour: float, photoperiod: float
) -> None:
    found = forecast.hours_to_draw(volume, _sure(day), _sure(night), hour, photoperiod).value
    if np.isfinite(found):
        drawn = forecast.drawn_l(found, day, night, hour, photoperiod)
        assert drawn == pytest.approx(volume, rel=1e-6)
        assert forecast.drawn_l(0.999 * found, day, night, hour, photoperiod) < volume
    else:
        assert day * photoperiod + night * (24.0 - photoperiod) == 0.0


@given(rates, rates, hours_of_day, hours_of_day, st.floats(0.0, 60.0))
def test_the_volume_drawn_is_the_rate_of_each_hour_added_up(
    day: float, night: float, hour: float, photoperiod: float, span: float
) -> None:
    lit = draw.light_hours(hour + span, photoperiod) - draw.light_hours(hour, photoperiod)
    expected = day * lit + night * (span - lit)
    assert forecast.drawn_l(span, day, night, hour, photoperiod) == pytest.approx(expected, abs=1e-9)


def test_a_reservoir_lasts_longer_when_the_lights_are_about_to_go_out() -> None:
    # derived by hand: 10 l at 2 l/h by day, nothing by night, 12 h of light
    day, night = _sure(2.0), _sure(0.0)
    found = forecast.hours_to_draw(10.0, day, night, [0.0, 11.0, 13.0], 12.0).value
    assert found.tolist() == [5.0, 1.0 + 12.0 + 4.0, 11.0 + 5.0]
    # a whole day's draw ends with its light, not with its 24 hours
    assert forecast.hours_to_draw(24.0, day, night, 0.0, 12.0).value == 12.0


def test_an_uncertain_draw_gives_an_early_and_a_late_hour() -> None:
    day = Interval(np.array(2.0), np.array(1.0), np.array(4.0))
    night = Interval(np.array(0.0), np.array(-0.1), np.array(0.0))
    found = forecast.hours_to_draw(8.0, day, night, 0.0, 12.0)
    assert (float(found.low), float(found.value), float(found.high)) == (2.0, 4.0, 8.0)
    never = forecast.hours_to_draw(8.0, Interval(day.value, -day.low, day.high), night, 0.0, 12.0)
    assert never.high == np.inf


def test_nothing_left_is_gone_at_once_and_unknown_stays_unknown() -> None:
    found = forecast.hours_to_draw([0.0, np.nan], _sure(0.0), _sure(0.0), 0.0, 12.0).value
    assert found[0] == 0.0
    assert np.isnan(found[1])
    assert np.isnan(forecast.hours_to_draw(5.0, _sure(np.nan), _sure(1.0), 0.0, 12.0).value)


@pytest.mark.parametrize(
    ("value", "slope", "rising", "expected"),
    [
        (100.0, (4.0, 2.0, 8.0), True, (20.0, 10.0, 40.0)),
        (100.0, (4.0, -1.0, 8.0), True, (20.0, 10.0, np.inf)),
        (100.0, (-4.0, -8.0, -2.0), True, (np.inf, np.inf, np.inf)),
        (190.0, (-4.0, -8.0, -2.0), True, (0.0, 0.0, 0.0)),
        (200.0, (-4.0, -8.0, -2.0), False, (5.0, 2.5, 10.0)),
        (200.0, (-4.0, -8.0, 2.0), False, (5.0, 2.5, np.inf)),
    ],
)
def test_a_limit_is_reached_earliest_at_the_fastest_likely_slope(
    value: float, slope: tuple[float, float, float], rising: bool, expected: tuple[float, float, float]
) -> None:
    found = forecast.time_to_limit(value, 180.0, Interval(*map(np.array, slope)), rising=rising)
    assert (float(found.value), float(found.low), float(found.high)) == expected


def test_a_limit_of_an_unknown_slope_is_reached_at_an_unknown_time() -> None:
    found = forecast.time_to_limit([100.0, np.nan], 180.0, _sure(np.nan), rising=True)
    assert np.isnan([found.value, found.low, found.high]).all()


def test_an_hour_outside_the_day_is_refused() -> None:
    with pytest.raises(InputError, match="hour since lights on"):
        forecast.hours_to_draw(5.0, _sure(1.0), _sure(1.0), 25.0, 12.0)
