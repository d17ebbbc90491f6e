"""Quantities as a reader chose to read them."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from wickwatch.texts import (
    Choices,
    draw,
    general,
    grouped,
    number,
    speaking,
    tension,
    tension_unit,
    volume,
    volume_unit,
)
from wickwatch.texts.choices import TENSION_UNITS, VOLUME_UNITS

KPA = Choices(tension_unit="kPa")
CBAR = Choices(tension_unit="cbar")
GALLONS = Choices(volume_unit="gal")
GERMAN = Choices("de")
GERMAN_KPA = Choices("de", tension_unit="kPa", volume_unit="gal")


# Derived: 1 kPa and 1 cbar are 10 mbar, so one digit more says as much; the US gallon is 3.785411784 l (NIST SP 811).
@pytest.mark.parametrize(
    ("choices", "said"),
    [
        (Choices(), ("112 mbar", "3.5 mbar", "7.5 l", "120 l", "1.2 l/h", "0.5")),
        (KPA, ("11.2 kPa", "0.35 kPa", "7.5 l", "120 l", "1.2 l/h", "0.5")),
        (CBAR, ("11.2 cbar", "0.35 cbar", "7.5 l", "120 l", "1.2 l/h", "0.5")),
        (GALLONS, ("112 mbar", "3.5 mbar", "2.0 gal", "32 gal", "0.32 gal/h", "0.5")),
        (GERMAN, ("112 mbar", "3,5 mbar", "7,5 l", "120 l", "1,2 l/h", "0,5")),
        (GERMAN_KPA, ("11,2 kPa", "0,35 kPa", "2,0 gal", "32 gal", "0,32 gal/h", "0,5")),
    ],
)
def test_a_quantity_is_read_in_its_readers_unit_with_as_much_said(choices: Choices, said: tuple[str, ...]) -> None:
    with speaking(choices):
        assert (tension(112.4), tension(3.51, 1), volume(7.48), volume(120.3), draw(1.2), number(0.5, 1)) == said


def test_where_nobody_is_spoken_to_units_are_those_of_the_interface() -> None:
    assert (tension(112.0), volume(7.5), draw(1.2), general(2.5)) == ("112 mbar", "7.5 l", "1.2 l/h", "2.5")


def test_thousands_are_told_apart_as_the_reader_writes_them() -> None:
    assert grouped(1234.4) == "1,234"
    with speaking(GERMAN):
        assert grouped(1234.4) == "1.234"


def test_no_number_is_less_than_nothing_by_rounding() -> None:
    assert (number(-0.04, 1), number(-0.4), number(-1.0)) == ("0.0", "0", "-1")


@given(st.integers(0, 999_999), st.sampled_from(TENSION_UNITS), st.sampled_from(VOLUME_UNITS))
def test_a_value_with_six_digits_comes_back_from_its_readers_unit_as_it_was(
    thousandths: int, tension_in: str, volume_in: str
) -> None:
    value = thousandths / 1000
    with speaking(Choices("en", tension_in, volume_in)):  # type: ignore[arg-type]
        for unit in (tension_unit(), volume_unit()):
            assert unit.inside(unit.shown(value)) == value
