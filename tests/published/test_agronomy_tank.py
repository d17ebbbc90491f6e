"""Tank volumes against published tables, worked examples and the fluids library."""

from __future__ import annotations

import numpy as np
import pytest
from fluids.geometry import TANK

from wickwatch.agronomy.tank import Box, Cylinder, Frustum, LyingCylinder, Table

MM_PER_INCH = 25.4
L_PER_US_GALLON = 3.785411784

# published: share of a lying cylinder's volume by share of its depth (engineering handbook table), 1e-5
SHARES = [
    (0.05, 0.01869),
    (0.10, 0.05204),
    (0.20, 0.14238),
    (0.25, 0.19550),
    (0.30, 0.25232),
    (0.40, 0.37353),
    (0.50, 0.5),
    (0.60, 0.62647),
    (0.75, 0.80450),
    (0.90, 0.94796),
    (0.95, 0.98131),
]


@pytest.mark.parametrize(("depth", "share"), SHARES)
@pytest.mark.parametrize("diameter_mm", [300.0, 1200.0])
def test_a_lying_cylinder_fills_as_the_published_table(diameter_mm: float, depth: float, share: float) -> None:
    tank = LyingCylinder(diameter_mm=diameter_mm, length_mm=3000.0)
    assert tank.volume_l(depth * diameter_mm) / tank.full_l == pytest.approx(share, abs=1e-5)


def test_a_lying_cylinder_of_48_by_96_inches_holds_the_published_gallons() -> None:
    # published worked example: 752 US gal full, 280.9 at 19.2 in
    tank = LyingCylinder(diameter_mm=48 * MM_PER_INCH, length_mm=96 * MM_PER_INCH)
    assert tank.full_l / L_PER_US_GALLON == pytest.approx(752.02, abs=0.01)
    assert tank.volume_l(19.2 * MM_PER_INCH) / L_PER_US_GALLON == pytest.approx(280.90, abs=0.01)


def test_a_lying_cylinder_agrees_with_fluids_at_every_level() -> None:
    tank = LyingCylinder(diameter_mm=1200.0, length_mm=3000.0)
    other = TANK(D=1.2, L=3.0, horizontal=True)
    levels_mm = np.array([1.0, 120.0, 300.0, 480.0, 900.0, 1199.0, 1200.0])
    expected = [other.V_from_h(level / 1000.0) * 1000.0 for level in levels_mm]
    assert tank.volume_l(levels_mm) == pytest.approx(expected, rel=1e-9)
    assert tank.level_mm(1000.0) == pytest.approx(402.94, abs=0.005)  # published with fluids 1.3.1


def test_a_tapered_pot_of_the_textbook_holds_84_pi() -> None:
    # derived: radii 3 and 6, height 4
    tank = Frustum(bottom_mm=6.0, top_mm=12.0, height_mm=4.0)
    assert tank.full_l * 1e6 == pytest.approx(84.0 * np.pi, rel=1e-12)


def test_a_bucket_at_half_depth_is_less_than_half_full() -> None:
    # derived: V = pi h (r1^2 + r1 r2 + r2^2) / 3 for a bucket 26 cm at its base, 30 cm at its top, 36 cm deep
    tank = Frustum(bottom_mm=260.0, top_mm=300.0, height_mm=360.0)
    found = tank.volume_l([50.0, 100.0, 180.0, 270.0, 360.0])
    assert found == pytest.approx([2.7118, 5.5394, 10.3107, 16.0528, 22.2048], abs=1e-4)
    assert tank.volume_l(180.0) / tank.full_l == pytest.approx(0.464, abs=5e-4)


def test_a_strapping_table_is_linear_between_its_rows() -> None:
    # derived: rows of the lying cylinder above; at 0.48 m the straight line gives 1283.2 l, the shape itself
    # 1267.4
    shape = LyingCylinder(diameter_mm=1200.0, length_mm=3000.0)
    rows = [(level, float(shape.volume_l(level))) for level in (0.0, 300.0, 600.0, 900.0, 1200.0)]
    assert [volume for _, volume in rows] == pytest.approx([0, 663.32, 1696.46, 2729.60, 3392.92], abs=0.005)
    table = Table(strapping=tuple(rows))
    assert table.volume_l(480.0) == pytest.approx(1283.2, abs=0.05)
    assert shape.volume_l(480.0) == pytest.approx(1267.4, abs=0.05)


def test_upright_tanks_hold_base_times_level() -> None:
    # derived: litres = mm3 / 1e6
    assert Cylinder(diameter_mm=580.0, height_mm=900.0).volume_l(100.0) == pytest.approx(26.4208, abs=1e-4)
    assert Box(length_mm=1000.0, width_mm=500.0, height_mm=800.0).volume_l(250.0) == pytest.approx(125.0)
