"""Laws that every tank shape obeys, and what its builder refuses."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from wickwatch.agronomy.tank import Box, Cylinder, Frustum, LyingCylinder, Table, Tank, tank_from_keys
from wickwatch.errors import InputError

sizes = st.floats(50.0, 5000.0)
tanks: st.SearchStrategy[Tank] = st.one_of(
    st.builds(Cylinder, diameter_mm=sizes, height_mm=sizes),
    st.builds(Box, length_mm=sizes, width_mm=sizes, height_mm=sizes),
    st.builds(Frustum, bottom_mm=sizes, top_mm=sizes, height_mm=sizes),
    st.builds(LyingCylinder, diameter_mm=sizes, length_mm=sizes),
    st.just(Table(strapping=((20, 1.5), (100, 26.1), (400, 90.0), (900, 240.0)))),
)
shares = st.floats(0.0, 1.0)


def _level(tank: Tank, share: float) -> float:
    return tank.lowest_mm + share * (tank.height_mm - tank.lowest_mm)


@given(tanks, shares)
def test_level_and_volume_round_trip(tank: Tank, share: float) -> None:
    level = _level(tank, share)
    assert tank.level_mm(tank.volume_l(level)) == pytest.approx(level, rel=1e-6, abs=1e-6 * tank.height_mm)


@given(tanks)
def test_volume_rises_with_level_and_its_slope_is_the_surface(tank: Tank) -> None:
    levels = np.linspace(_level(tank, 0.05), _level(tank, 0.95), 40)
    volumes = tank.volume_l(levels)
    assert (np.diff(volumes) > 0.0).all()
    step = tank.height_mm * 1e-6
    slope = (tank.volume_l(levels + step) - tank.volume_l(levels)) * 1e6 / step
    assert slope == pytest.approx(tank.area_mm2(levels), rel=1e-4)


@given(st.builds(LyingCylinder, diameter_mm=sizes, length_mm=sizes), shares)
def test_a_lying_cylinder_is_symmetric_and_widest_in_the_middle(tank: LyingCylinder, share: float) -> None:
    level = _level(tank, share)
    both = tank.volume_l(level) + tank.volume_l(tank.height_mm - level)
    assert both == pytest.approx(tank.full_l, rel=1e-9)
    assert tank.volume_l(tank.height_mm / 2.0) == pytest.approx(tank.full_l / 2.0, rel=1e-12)
    assert tank.area_mm2(level) <= tank.area_mm2(tank.height_mm / 2.0)


@given(sizes, sizes)
def test_a_frustum_with_equal_ends_is_a_cylinder(diameter: float, height: float) -> None:
    bucket = Frustum(bottom_mm=diameter, top_mm=diameter, height_mm=height)
    cylinder = Cylinder(diameter_mm=diameter, height_mm=height)
    levels = np.linspace(0.0, height, 7)
    assert bucket.volume_l(levels) == pytest.approx(cylinder.volume_l(levels), rel=1e-12)
    assert bucket.level_mm(bucket.volume_l(levels)) == pytest.approx(levels, rel=1e-12)


@given(tanks)
def test_a_level_outside_the_tank_is_refused_and_can_be_clipped(tank: Tank) -> None:
    outside = [tank.lowest_mm - 1.0, tank.height_mm + 1.0]
    for level in outside:
        with pytest.raises(InputError, match="level in mm"):
            tank.volume_l(level)
    with pytest.raises(InputError, match="volume in l"):
        tank.level_mm(tank.full_l + 1.0)
    assert tank.clip_level_mm(outside).tolist() == [tank.lowest_mm, tank.height_mm]


@given(tanks)
def test_a_missing_level_gives_a_missing_volume(tank: Tank) -> None:
    assert np.isnan([tank.volume_l(np.nan), tank.level_mm(np.nan), tank.area_mm2(np.nan)]).all()


def test_usable_water_ends_where_the_line_starves() -> None:
    tank = Box(length_mm=1000.0, width_mm=1000.0, height_mm=500.0)
    assert tank.usable_l([300.0, 70.0, 10.0], empty_level_mm=70.0).tolist() == [230.0, 0.0, 0.0]


@pytest.mark.parametrize(
    ("shape", "keys", "same"),
    [
        ("cylinder", {"diameter_mm": 580, "height_mm": 900}, Cylinder(diameter_mm=580, height_mm=900)),
        (
            "box",
            {"length_mm": 900, "width_mm": 400, "height_mm": 500, "outlet_mm": 40},
            Box(length_mm=900, width_mm=400, height_mm=500),
        ),
        (
            "frustum",
            {"bottom_mm": 260, "top_mm": 300, "height_mm": 360},
            Frustum(bottom_mm=260, top_mm=300, height_mm=360),
        ),
        (
            "lying-cylinder",
            {"diameter_mm": 600, "length_mm": 1500},
            LyingCylinder(diameter_mm=600, length_mm=1500),
        ),
        ("table", {"strapping": [[0, 0.0], [100, 26.1]]}, Table(strapping=((0, 0.0), (100, 26.1)))),
    ],
)
def test_a_tank_is_built_from_the_keys_of_the_fleet_file(shape: str, keys: Mapping[str, object], same: Tank) -> None:
    assert tank_from_keys(shape, keys) == same


@pytest.mark.parametrize(
    ("shape", "keys", "sentence"),
    [
        ("ball", {}, "shape is 'ball'; accepted: cylinder, box, frustum, lying-cylinder, table"),
        (
            "cylinder",
            {"height_mm": 900},
            "diameter_mm is .*a cylinder needs diameter_mm, height_mm",
        ),
        ("cylinder", {"diameter_mm": 0, "height_mm": 900}, "diameter_mm is 0;"),
        ("cylinder", {"diameter_mm": float("inf"), "height_mm": 900}, "diameter_mm is inf;"),
        ("cylinder", {"diameter_mm": "580", "height_mm": 900}, "diameter_mm is '580'"),
        ("table", {"strapping": [[0, 0.0], [100, 26.1], [50, 30.0]]}, "both rising"),
        ("table", {"strapping": [[0, 0.0], [100, 26.1], [150, 26.1]]}, "both rising"),
        ("table", {"strapping": [[-10, 0.0], [100, 26.1]]}, "from 0"),
        ("table", {"strapping": [[0, 0.0]]}, "two or more rows"),
        ("table", {"strapping": [[0, 0.0], [100]]}, "two or more rows"),
        ("table", {"strapping": "none"}, "two or more rows"),
    ],
)
def test_keys_that_describe_no_tank_are_refused_with_what_is_accepted(
    shape: str, keys: Mapping[str, object], sentence: str
) -> None:
    with pytest.raises(InputError, match=sentence):
        tank_from_keys(shape, keys)
