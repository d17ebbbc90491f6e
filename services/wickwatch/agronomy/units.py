"""What can be measured, in which units it may arrive, and in which one it is kept.

Here: the quantities of the public contract with their conversions and physical limits, and tension in the
units people like to see (pF, cm of water, kPa, cbar). Not here: SenML itself, nor what a value means for a
plant. The limits say "no instrument can mean this", not "this is bad for the crop", so that a strange but
true reading reaches the detectors instead of quarantine.

Unit spellings are those of RFC 8428, RFC 8798 (secondary units) and the trade's (mbar, kPa, cbar).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

import numpy as np
from numpy.typing import ArrayLike

from wickwatch.agronomy.arrays import Bools, Floats, floats, positive_number
from wickwatch.errors import InputError

# Conventional centimetre of water: 1000 kg/m3 and standard gravity 9.80665 m/s2. Exact.
MBAR_PER_CM_WATER = 0.980665
MBAR_PER_KPA = 10.0


@dataclass(frozen=True)
class Quantity:
    """One measurable quantity.

    `factors` gives for each accepted unit (scale, offset): stored = value * scale + offset.
    `low` and `high` are the physical limits in the stored unit, both ends included.
    `ratio_unit` is accepted as a share of the channel's full scale.
    `kept_units` are stored as they came, never converted, with limits of their own: no formula turns one cell
    chemistry's volts into remaining charge.
    """

    name: str
    stored_unit: str
    factors: Mapping[str, tuple[float, float]]
    low: float
    high: float
    limits_source: str
    ratio_unit: str | None = None
    kept_units: Mapping[str, tuple[float, float]] = field(default_factory=dict)

    @property
    def accepted_units(self) -> tuple[str, ...]:
        """Every unit a reading may carry, the preferred spelling first."""
        ratio = (self.ratio_unit,) if self.ratio_unit else ()
        return (*self.factors, *self.kept_units, *ratio)


@dataclass(frozen=True)
class Conversion:
    """How values of one unit become stored ones: stored = value * scale + offset, in [low, high]."""

    stored_unit: str
    scale: float
    offset: float
    low: float
    high: float


def _quantities(*quantities: Quantity) -> Mapping[str, Quantity]:
    return MappingProxyType({quantity.name: quantity for quantity in quantities})


QUANTITIES: Mapping[str, Quantity] = _quantities(
    Quantity(
        "tension",
        "mbar",
        {"hPa": (1.0, 0.0), "Pa": (0.01, 0.0), "mbar": (1.0, 0.0), "kPa": (10.0, 0.0), "cbar": (10.0, 0.0)},
        -100.0,
        2000.0,
        "common practice: a metre of standing water above the cup, to the end of the 0-200 cbar scale that "
        "instruments without a water column are sold with",
    ),
    Quantity(
        "level",
        "mm",
        {"mm": (1.0, 0.0), "cm": (10.0, 0.0), "m": (1000.0, 0.0)},
        -1000.0,
        20000.0,
        "common practice: a sensor's zero up to a metre above the water left in a tank, to a 20 m tall silo",
        ratio_unit="/",
    ),
    Quantity(
        "temperature",
        "degC",
        {"Cel": (1.0, 0.0)},
        -40.0,
        85.0,
        "common practice: the industrial working range of the electronics themselves",
    ),
    Quantity("humidity", "%RH", {"%RH": (1.0, 0.0)}, 0.0, 100.0, "by definition"),
    Quantity(
        "flow",
        "m3/s",
        {"m3/s": (1.0, 0.0), "l/s": (0.001, 0.0)},
        -0.1,
        0.1,
        "common practice: 100 litres a second either way is far beyond any gravity-fed supply line",
    ),
    Quantity(
        "battery",
        "%EL",
        {"%EL": (1.0, 0.0)},
        0.0,
        100.0,
        "by definition; volts: common practice, up to a 48 V bank while it charges",
        kept_units={"V": (0.0, 60.0)},
    ),
)


def quantity(name: str) -> Quantity:
    """Return the quantity of that name, or raise InputError naming those known."""
    found = QUANTITIES.get(name)
    if found is None:
        raise InputError("quantity", name, ", ".join(QUANTITIES))
    return found


def conversion(name: str, unit: str, full_scale_mm: float | None = None) -> Conversion:
    """Return how a reading of quantity `name` in `unit` becomes its stored value.

    One call serves a whole stream of readings of the same unit. `full_scale_mm` is the level [mm] at ratio 1
    and only needed where the unit is a ratio of full scale. Raises InputError naming the accepted units.
    """
    known = quantity(name)
    if unit in known.factors:
        scale, offset = known.factors[unit]
        return Conversion(known.stored_unit, scale, offset, known.low, known.high)
    if unit in known.kept_units:
        return Conversion(unit, 1.0, 0.0, *known.kept_units[unit])
    if known.ratio_unit is not None and unit == known.ratio_unit:
        if full_scale_mm is None:
            raise InputError(f"full scale of a {name} channel in {unit!r}", None, "a height in mm, set on the channel")
        full = positive_number(f"full scale of a {name} channel in mm", full_scale_mm)
        return Conversion(known.stored_unit, full, 0.0, known.low, known.high)
    raise InputError(f"unit of {name}", unit, ", ".join(known.accepted_units))


def to_stored(name: str, unit: str, value: ArrayLike, full_scale_mm: float | None = None) -> Floats:
    """Return `value` (any shape) of quantity `name` as stored; arguments and errors as `conversion`."""
    rule = conversion(name, unit, full_scale_mm)
    return floats(value) * rule.scale + rule.offset


def is_physical(rule: Conversion, stored: ArrayLike) -> Bools:
    """Return where stored values are finite and inside the physical limits of their conversion."""
    array = floats(stored)
    return np.asarray((array >= rule.low) & (array <= rule.high))


def cm_water_from_mbar(tension_mbar: ArrayLike) -> Floats:
    """Return tension [mbar] as cm of water column (conventional density)."""
    return floats(tension_mbar) / MBAR_PER_CM_WATER


def mbar_from_cm_water(tension_cm: ArrayLike) -> Floats:
    """Return tension [cm of water, conventional density] in mbar."""
    return floats(tension_cm) * MBAR_PER_CM_WATER


def kpa_from_mbar(tension_mbar: ArrayLike) -> Floats:
    """Return tension [mbar] in kPa, which is also cbar."""
    return floats(tension_mbar) / MBAR_PER_KPA


def mbar_from_kpa(tension_kpa: ArrayLike) -> Floats:
    """Return tension [kPa or cbar] in mbar."""
    return floats(tension_kpa) * MBAR_PER_KPA


def pf_from_mbar(tension_mbar: ArrayLike) -> Floats:
    """Return pF, log10 of tension in cm of water (Schofield 1935); NaN at tension 0 and below."""
    tension_cm = cm_water_from_mbar(tension_mbar)
    return np.log10(np.where(tension_cm > 0.0, tension_cm, np.nan))


def mbar_from_pf(pf: ArrayLike) -> Floats:
    """Return tension [mbar] of a pF value."""
    return mbar_from_cm_water(10.0 ** floats(pf))
