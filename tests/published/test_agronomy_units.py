"""Units of tension and water column against published and library figures."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from wickwatch.agronomy import units


@pytest.fixture(scope="module")
def registry() -> Any:
    """Pint's units; made here alone, since it takes seconds."""
    import pint

    return pint.UnitRegistry()


# derived: pF = log10(tension / 1 cm of water), Schofield 1935, with the conventional cm of water 0.980665
# mbar.
PF_OF_MBAR = [
    (10.0, 1.0085),
    (50.0, 1.7074),
    (60.0, 1.7866),
    (100.0, 2.0085),
    (200.0, 2.3095),
    (330.0, 2.5270),
    (800.0, 2.9116),
    (850.0, 2.9379),
    (15000.0, 4.1846),
]
MBAR_OF_PF = [
    (1.0, 9.8067),
    (1.7, 49.150),
    (1.8, 61.876),
    (2.0, 98.0665),
    (2.5, 310.114),
    (2.7, 491.497),
    (3.0, 980.665),
    (4.2, 15542.5),
]


@pytest.mark.parametrize(("mbar", "pf"), PF_OF_MBAR)
def test_pf_of_a_tension_is_the_published_definition(mbar: float, pf: float) -> None:
    assert units.pf_from_mbar(mbar) == pytest.approx(pf, abs=1e-4)


@pytest.mark.parametrize(("pf", "mbar"), MBAR_OF_PF)
def test_tension_of_a_pf_is_the_published_definition(pf: float, mbar: float) -> None:
    assert units.mbar_from_pf(pf) == pytest.approx(mbar, rel=1e-5)


def test_pf_is_not_the_logarithm_of_millibars() -> None:
    # derived: log10(1.0197) = 0.0085, the same at every tension
    mbar = np.array([10.0, 100.0, 850.0])
    assert units.pf_from_mbar(mbar) - np.log10(mbar) == pytest.approx(0.0085, abs=5e-5)


@pytest.mark.parametrize(
    ("unit", "named"),
    [("hPa", "hPa"), ("Pa", "Pa"), ("mbar", "mbar"), ("kPa", "kPa"), ("cbar", "centibar")],
)
def test_every_tension_unit_agrees_with_pint(registry: Any, unit: str, named: str) -> None:
    expected = registry.Quantity(37.5, named).to("millibar").magnitude
    assert units.to_stored("tension", unit, 37.5) == pytest.approx(expected, rel=1e-12)


def test_centimetres_of_water_agree_with_pint(registry: Any) -> None:
    expected = registry.Quantity(100.0, "millibar").to("centimeter_H2O").magnitude
    assert units.cm_water_from_mbar(100.0) == pytest.approx(expected, rel=1e-9)


# published: RFC 8798, the secondary units hPa, mm and cm as value x scale of their primary unit
@pytest.mark.parametrize(
    ("name", "secondary", "primary", "scale"),
    [("tension", "hPa", "Pa", 100.0), ("level", "mm", "m", 0.001), ("level", "cm", "m", 0.01)],
)
def test_secondary_units_scale_as_rfc_8798_says(name: str, secondary: str, primary: str, scale: float) -> None:
    assert units.to_stored(name, secondary, 7.0) == pytest.approx(units.to_stored(name, primary, 7.0 * scale))
