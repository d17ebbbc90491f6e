"""Lights at unusual hours, told by a room's warmth."""

from __future__ import annotations

import numpy as np

from wickwatch.detect import constants as c
from wickwatch.detect.lights import unusual_light

DAYS = 10
HOUR = np.arange(24 * DAYS) % 24
COLUMNS = np.array([np.flatnonzero(each == HOUR)[::-1] for each in range(24)])
PLANNED = ((HOUR >= 6) & (HOUR < 18))[np.newaxis]


def unusual(degc: np.ndarray) -> np.ndarray:
    return unusual_light(degc[np.newaxis].astype(float), PLANNED, HOUR[-c.WEATHER_HOURS :], COLUMNS)[0]


def test_a_room_that_is_warm_by_night_for_once_had_its_lights_on_and_is_watered_for_it_afterwards() -> None:
    degc = np.where(PLANNED[0], 25.0, 20.0)
    assert not unusual(degc).any()
    degc[-6:-3] = 25.0  # 18:00 to 21:00 of the last day
    assert np.flatnonzero(unusual(degc)).tolist() == [c.WEATHER_HOURS - n for n in (6, 5, 4, 3, 2)]


def test_light_that_burns_every_night_since_a_week_is_usual() -> None:
    degc = np.where(PLANNED[0] | ((HOUR >= 18) & (HOUR < 21) & (np.arange(24 * DAYS) > 48)), 25.0, 20.0)
    assert not unusual(degc).any()


def test_a_room_that_lights_do_not_warm_or_that_nobody_measures_tells_nothing() -> None:
    degc = np.where(PLANNED[0], 21.0, 20.0)
    degc[-6:-3] = 25.0
    assert not unusual(degc).any()
    assert not unusual(np.full(24 * DAYS, np.nan)).any()


def test_a_hot_day_is_no_light_in_its_dark_hours_and_light_in_them_is_told_still() -> None:
    late = np.arange(24 * DAYS) >= 24 * (DAYS - 2)
    degc = np.where(PLANNED[0], 25.0, 20.0) + np.where(late, 3.5, 0.0)
    assert not unusual(degc).any()
    degc[-6:-3] = 28.5  # 18:00 to 21:00 of the last day
    assert np.flatnonzero(unusual(degc)).tolist() == [c.WEATHER_HOURS - n for n in (6, 5, 4, 3, 2)]


def test_a_day_without_any_light_makes_none_of_its_night() -> None:
    degc = np.where(PLANNED[0], 25.0, 20.0)
    degc[-24:] = 20.0
    assert not unusual(degc + 0.2 * np.random.default_rng(1).standard_normal(len(degc))).any()
