"""How water arrives: an emitter's at one rate for long, a can's less and less; and how many litres it was."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.unit.detect.builders import room, watered
from wickwatch.agronomy.media import medium
from wickwatch.agronomy.retention import theta
from wickwatch.detect.arrival import Arrival, arrival

POT = room(pots=1).containers[0]  # 20 l of peat-perlite
HOURS = np.arange(-1, 2, 1 / 12)
ONSET = 12  # the bucket of hour 0


def fallen(minutes: float, until_h: float, pot=POT, end: float = 20.0, apart: int = 1) -> Arrival:
    fine = watered(0.0, 100, end, minutes=minutes)(HOURS[until_h + 1e-9 >= HOURS])[np.newaxis].astype(np.float32)
    return arrival([pot], fine, np.array([ONSET]), np.array([fine.shape[1] - 1]), np.array([apart]))


def test_an_emitters_water_comes_steadily_as_long_as_it_is_open() -> None:
    open_yet = fallen(minutes=100, until_h=1.0, end=8)
    assert open_yet.comes[0]
    assert open_yet.steady_min[0] >= 30


@pytest.mark.parametrize("minutes", [3, 8, 12])
def test_a_cans_water_stops_coming_within_the_hour_and_was_never_steady_for_long(minutes: float) -> None:
    poured = fallen(minutes, until_h=1.0)
    assert not poured.comes[0]
    assert poured.steady_min[0] < 30


def test_litres_follow_from_the_mediums_retention_curve_and_volume() -> None:
    # All has spread after two hours: from 100 to 20 mbar (derived from the published curve).
    expected = 20.0 * float(theta(medium("peat-perlite"), 20.0) - theta(medium("peat-perlite"), 100.0))
    assert fallen(minutes=8, until_h=1.9).gained_l[0] == pytest.approx(expected, rel=0.01)
    assert fallen(minutes=8, until_h=1.9, pot=replace(POT, volume_l=40.0)).gained_l[0] == pytest.approx(
        2 * expected, rel=0.01
    )


def test_without_a_known_medium_its_shape_tells_and_no_litres() -> None:
    pot = replace(POT, medium="a mix of one's own")
    assert np.isnan(fallen(minutes=8, until_h=1.0, pot=pot).gained_l[0])
    assert fallen(minutes=100, until_h=1.0, pot=pot, end=8).steady_min[0] >= 30
    assert fallen(minutes=8, until_h=1.0, pot=pot).steady_min[0] < 30


@pytest.mark.parametrize("apart", [1, 2])
def test_within_twenty_minutes_a_cans_water_dwindles_and_an_emitters_does_not(apart: int) -> None:
    assert fallen(minutes=100, until_h=1 / 3, end=8, apart=apart).undiminished[0]
    assert not fallen(minutes=8, until_h=1 / 3, apart=apart).undiminished[0]


def test_two_readings_alike_are_not_undiminished_while_others_had_more() -> None:
    """A can's water as a coarse probe told it: less than at first in both of the last five minutes."""
    fine = np.array([[59.0, 57.0, 47.0, 36.0, 28.5, 24.5, 20.5]], dtype=np.float32)
    seen = arrival([POT], fine, np.array([1]), np.array([6]), np.array([1]))
    assert seen.comes[0]
    assert not seen.undiminished[0]


def test_what_comes_less_and_less_from_reading_to_reading_dwindles() -> None:
    assert fallen(minutes=8, until_h=0.5).dwindles[0]
    assert not fallen(minutes=8, until_h=1 / 6).dwindles[0]
    assert not fallen(minutes=100, until_h=0.5, end=8).dwindles[0]


def test_what_began_less_than_two_readings_ago_is_not_said_to_be_undiminished() -> None:
    assert not fallen(minutes=100, until_h=1 / 3, end=8, apart=9).undiminished[0]


def test_water_of_which_less_than_half_as_much_comes_ends() -> None:
    """A can's within half an hour, though it comes at a good share of its rate over the last ten minutes; or never."""
    fine = np.array([[100.16, 95.86, 81.68, 66.54, 56.34, 49.22, 45.88]], dtype=np.float32)
    seen = arrival([POT], fine, np.array([0]), np.array([6]), np.array([1]))
    assert seen.comes[0]
    assert seen.ends[0]
    assert not fallen(minutes=100, until_h=0.5, end=8).ends[0]
