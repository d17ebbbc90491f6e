"""Behaviour of units that no published figure covers."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from wickwatch.agronomy import units
from wickwatch.errors import InputError

# The units of the public contract, the preferred spelling first.
CONTRACT_UNITS = {
    "tension": {"hPa", "Pa", "mbar", "kPa", "cbar"},
    "level": {"mm", "cm", "m", "/"},
    "temperature": {"Cel"},
    "humidity": {"%RH"},
    "flow": {"m3/s", "l/s"},
    "battery": {"%EL", "V"},
}


def test_the_quantities_and_their_units_are_those_of_the_contract() -> None:
    assert {name: set(known.accepted_units) for name, known in units.QUANTITIES.items()} == CONTRACT_UNITS


def test_an_unknown_unit_is_refused_with_the_accepted_ones() -> None:
    with pytest.raises(InputError, match="unit of tension is 'psi'; accepted: hPa, Pa, mbar, kPa, cbar"):
        units.to_stored("tension", "psi", 1.0)


def test_an_unknown_quantity_is_refused_with_the_known_ones() -> None:
    with pytest.raises(InputError, match="quantity is 'colour'; accepted: tension, level"):
        units.to_stored("colour", "m", 1.0)


def test_a_level_ratio_needs_the_full_scale_of_its_channel() -> None:
    assert units.to_stored("level", "/", [0.0, 0.25, 1.0], full_scale_mm=800.0) == pytest.approx([0, 200, 800])
    with pytest.raises(InputError, match="full scale"):
        units.to_stored("level", "/", 0.25)
    with pytest.raises(InputError, match="full scale"):
        units.to_stored("level", "/", 0.25, full_scale_mm=0.0)


def test_battery_volts_stay_volts_with_limits_of_their_own() -> None:
    rule = units.conversion("battery", "V")
    assert (rule.stored_unit, rule.scale, rule.offset) == ("V", 1.0, 0.0)
    assert units.is_physical(rule, [3.6, 61.0]).tolist() == [True, False]


def test_values_no_instrument_can_mean_are_not_physical() -> None:
    rule = units.conversion("tension", "kPa")
    stored = units.to_stored("tension", "kPa", [10.35, -5.0, 1e6, np.nan, np.inf])
    assert stored[0] == pytest.approx(103.5)
    assert units.is_physical(rule, stored).tolist() == [True, True, False, False, False]


def test_pf_is_not_available_at_zero_tension_and_below() -> None:
    assert np.isnan(units.pf_from_mbar([0.0, -5.0, np.nan])).all()


@given(st.floats(1e-3, 1e5))
def test_pf_kpa_and_cm_of_water_round_trip(mbar: float) -> None:
    assert units.mbar_from_pf(units.pf_from_mbar(mbar)) == pytest.approx(mbar, rel=1e-12)
    assert units.mbar_from_kpa(units.kpa_from_mbar(mbar)) == pytest.approx(mbar, rel=1e-12)
    assert units.mbar_from_cm_water(units.cm_water_from_mbar(mbar)) == pytest.approx(mbar, rel=1e-12)
