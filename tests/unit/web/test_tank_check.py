"""The check of a reservoir's shape: what it says of a known filling, and that nothing typed can break it."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from wickwatch.agronomy.tank import SHAPES
from wickwatch.web.views.tank_check import tank_check

BOX = {"length_mm": 1000, "width_mm": 500, "height_mm": 600, "outlet_mm": 40, "head_mm": 20}
values = st.one_of(
    st.none(), st.floats(allow_nan=False), st.integers(-10, 5000), st.text(max_size=4), st.lists(st.floats())
)
KEYS = ("diameter_mm", "length_mm", "width_mm", "bottom_mm", "top_mm", "height_mm", "strapping", "outlet_mm", "head_mm")


@pytest.mark.parametrize(
    ("known_l", "verdict", "fits"),
    [
        (200, "That fits what you poured in, 200 l.", True),
        (208, "That fits what you poured in, 208 l.", True),
        (185, "That is 8 % more than the 185 l you poured in. Measure once more.", False),
        (300, "That is 33 % less than the 300 l you poured in. Look at the measures again", False),
    ],
)
def test_a_box_of_half_a_square_metre_holds_50_l_for_each_100_mm(known_l: float, verdict: str, fits: bool) -> None:
    check = tank_check("box", BOX, 400, known_l)
    assert check.at_level == "At 400 mm it holds 200 l."
    assert check.holds == "Full to the rim it holds 300 l."
    assert check.usable == "The line starves at 60 mm with 30 l left, so 270 l are of use."
    assert check.verdict.startswith(verdict)
    assert check.fits == fits


def test_the_drawing_keeps_the_proportions_of_the_tank() -> None:
    drawing = tank_check("lying-cylinder", {"diameter_mm": 600, "length_mm": 900, "outlet_mm": 0}, 300, None).drawing
    assert drawing is not None
    assert drawing.water_y == 72.0  # half of what is as high as it is wide: 120 of 132 high, from the bottom
    assert drawing.starve_y == 132.0


@given(st.sampled_from(SHAPES), st.fixed_dictionaries(dict.fromkeys(KEYS, values)), values, values)
def test_nothing_that_can_be_typed_breaks_it(
    shape: str, typed: dict[str, object], level: object, known: object
) -> None:
    check = tank_check(shape, typed, level, known)
    assert bool(check.missing) != bool(check.holds)
