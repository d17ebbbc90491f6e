"""Properties of water as a function of its temperature, at ordinary pressure.

Here: density, viscosity, and the pressure of a column. Not here: flow (`hydraulics`). Assuming 1000 kg/m3 at
20 degC is 0.18 % off, which is why the column is not a constant here; `units` keeps the conventional one for
tension.

1. Tanaka, Girard, Davis, Peuto and Bignell 2001, Metrologia 38:301, valid 0 to 40 degC.
2. Patek, Hruby, Klomfar, Souckova and Harvey 2009, J. Phys. Chem. Ref. Data 38:21, also IAPWS SR6-08 (from
memory,
   checked against two libraries).
"""

from __future__ import annotations

from numpy.typing import ArrayLike

from wickwatch.agronomy.arrays import Floats, within

GRAVITY_M_PER_S2 = 9.80665

# Viscosity [1e-6 Pa s] at 0.1 MPa as a sum of a (T / 300 K)^b.
_VISCOSITY_TERMS = ((280.68, -1.9), (511.45, -7.7), (61.131, -19.6), (0.45903, -40.0))


def density_kg_per_m3(temperature_degc: ArrayLike) -> Floats:
    """Return the density of air-free water [kg/m3] [1]; InputError outside 0 to 40 degC."""
    t = _liquid_degc(temperature_degc)
    return 999.974950 * (1.0 - (t - 3.983035) ** 2 * (t + 301.797) / (522528.9 * (t + 69.34881)))


def viscosity_pa_s(temperature_degc: ArrayLike) -> Floats:
    """Return the dynamic viscosity of water [Pa s] [2]; InputError outside 0 to 40 degC."""
    ratio = (_liquid_degc(temperature_degc) + 273.15) / 300.0
    first, *rest = (scale * ratio**power for scale, power in _VISCOSITY_TERMS)
    return 1e-6 * sum(rest, start=first)


def kinematic_viscosity_m2_per_s(temperature_degc: ArrayLike) -> Floats:
    """Return the kinematic viscosity of water [m2/s]; InputError outside 0 to 40 degC."""
    return viscosity_pa_s(temperature_degc) / density_kg_per_m3(temperature_degc)


def column_mbar_per_m(temperature_degc: ArrayLike) -> Floats:
    """Return the pressure of one metre of water [mbar]; InputError outside 0 to 40 degC."""
    return density_kg_per_m3(temperature_degc) * GRAVITY_M_PER_S2 / 100.0


def _liquid_degc(temperature_degc: ArrayLike) -> Floats:
    return within("water temperature in degC", temperature_degc, 0.0, 40.0)
