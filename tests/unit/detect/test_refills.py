"""Refills as a level shows them."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from numpy.typing import NDArray

from wickwatch.agronomy.tank import tank_from_keys
from wickwatch.detect.refills import rises

START = datetime(2026, 11, 20, tzinfo=UTC)
# 580 mm wide: 0.2642 l per mm (derived).
TANK = tank_from_keys("cylinder", {"diameter_mm": 580, "height_mm": 900})
LITRES_PER_MM = np.pi * 290**2 / 1e6


def level(*refills: tuple[int, int, float], noise_mm: float = 0.0) -> NDArray[np.float64]:
    """A day of levels that fall by 4 mm an hour; a refill is (first bucket, buckets it takes, mm)."""
    at = np.arange(288)
    values = 500.0 - at * 4.0 / 12.0
    for first, buckets, mm in refills:
        values += mm * np.clip((at - first) / buckets, 0.0, 1.0)
    return np.asarray(values + noise_mm * np.random.default_rng(3).standard_normal(288))


@pytest.mark.parametrize("noise_mm", [0.0, 1.5])
def test_a_refill_is_told_with_its_time_and_its_litres(noise_mm: float) -> None:
    (rise,) = rises(START, level((100, 3, 200.0), noise_mm=noise_mm), TANK)
    assert abs(rise.start - (START + 100 * timedelta(minutes=5))) <= timedelta(minutes=10)
    assert rise.end - rise.start <= timedelta(minutes=30)
    assert rise.litres == pytest.approx(200.0 * LITRES_PER_MM, abs=1.5)


def test_cans_fetched_one_after_the_other_are_one_refill_and_those_hours_apart_are_two() -> None:
    near = rises(START, level((60, 1, 40.0), (64, 1, 40.0), (68, 1, 40.0)), TANK)
    assert [round(rise.litres / LITRES_PER_MM, -1) for rise in near] == [120.0]
    assert len(rises(START, level((60, 1, 40.0), (120, 1, 40.0)), TANK)) == 2


def test_falling_noise_a_wave_and_silence_are_no_refills() -> None:
    assert rises(START, level(noise_mm=2.0), TANK) == []
    wave = level()
    wave[150] += 80.0
    assert rises(START, wave, TANK) == []
    assert rises(START, np.full(288, np.nan), TANK) == []
    assert rises(START, [], TANK) == []


def test_a_refill_during_a_silence_is_told_where_the_level_is_heard_again() -> None:
    values = level((100, 3, 200.0))
    values[90:130] = np.nan
    (rise,) = rises(START, values, TANK)
    assert rise.end == START + 130 * timedelta(minutes=5)
    assert rise.litres == pytest.approx(200.0 * LITRES_PER_MM, abs=5.0)


def test_readings_every_ten_minutes_tell_as_much() -> None:
    values = level((100, 3, 200.0))
    values[::2] = np.nan
    (rise,) = rises(START, values, TANK)
    assert rise.litres == pytest.approx(200.0 * LITRES_PER_MM, abs=3.0)
