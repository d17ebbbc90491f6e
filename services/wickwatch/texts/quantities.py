"""Numbers and quantities as the reader chose to read them.

Inside, tension is mbar, water l, and a height of water mm; heights are read as they are. Not here: units that readings
come in (`agronomy.units`).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING, TypeVar

from babel.numbers import get_decimal_symbol, get_group_symbol

from wickwatch.texts.choices import TensionUnit, VolumeUnit, spoken

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

_Values = TypeVar("_Values", float, "NDArray[np.float64]")


@dataclass(frozen=True)
class Unit:
    """A unit for reading: `size` of the unit inside make one; `digits` more are needed after the point for as much."""

    name: str
    size: float
    digits: int

    def shown(self, inside: _Values) -> _Values:
        """A value, or an array of them, in this unit."""
        return inside / self.size

    def inside(self, shown: float) -> float:
        """The value inside of one in this unit, without the last digits that reckoning in binary leaves."""
        return float(f"{shown * self.size:.10g}")

    def number(self, inside: float, digits: int = 0) -> str:
        """A value without its unit; `digits` after the point in the unit inside."""
        return number(self.shown(inside), digits + self.digits)

    def text(self, inside: float, digits: int = 0) -> str:
        """A value with its unit."""
        return f"{self.number(inside, digits)} {self.name}"

    def signed(self, inside: float, digits: int = 0) -> str:
        """A difference without its unit, with its sign: +12, -3."""
        text = self.number(inside, digits)
        return text if text.startswith("-") else f"+{text}"


#: 1 kPa is 10 mbar and so is 1 cbar (SI brochure, table 8).
_TENSION: Mapping[TensionUnit, Unit] = {
    "mbar": Unit("mbar", 1.0, 0),
    "kPa": Unit("kPa", 10.0, 1),
    "cbar": Unit("cbar", 10.0, 1),
}

#: The US liquid gallon is 231 cubic inches, 3.785411784 l (NIST Special Publication 811, appendix B).
_VOLUME: Mapping[VolumeUnit, Unit] = {"l": Unit("l", 1.0, 0), "gal": Unit("gal", 3.785411784, 0)}


def tension_unit() -> Unit:
    """What tension is read in; of mbar inside."""
    return _TENSION[spoken().tension_unit]


def volume_unit() -> Unit:
    """What water is read in; of l inside."""
    return _VOLUME[spoken().volume_unit]


def tension(mbar: float, digits: int = 0) -> str:
    """A tension with its unit: 112 mbar, 11.2 kPa; `digits` after the point as in mbar."""
    return tension_unit().text(mbar, digits)


def volume(litres: float) -> str:
    """Water as it is read at a reservoir: 7.5 l below ten, whole litres above; gallons likewise."""
    unit = volume_unit()
    return unit.text(litres, 1 if unit.shown(litres) < 9.95 else 0)


def draw(litres_per_hour: float) -> str:
    """A flow: 1.2 l/h, 0.32 gal/h."""
    unit = volume_unit()
    return f"{number(unit.shown(litres_per_hour), 1 if unit.size == 1.0 else 2)} {unit.name}/h"


def number(value: float, digits: int = 0) -> str:
    """A number with so many digits after the point, which is a comma where the language writes one; never -0."""
    text = f"{round(value, digits) + 0.0:.{digits}f}"
    return text.replace(".", _point(spoken().language))


def grouped(value: float) -> str:
    """A whole number with its thousands told apart: 1,234."""
    return f"{value:,.0f}".replace(",", get_group_symbol(spoken().language))


def point() -> str:
    """What the reader writes between a number and its decimals."""
    return _point(spoken().language)


def field(value: float) -> str:
    """A number as a form's field holds it, with every digit that counts."""
    return f"{value:.10g}".replace(".", point())


def general(value: float) -> str:
    """A number with the digits it has, six at most."""
    return f"{value:g}".replace(".", _point(spoken().language))


@cache
def _point(language: str) -> str:
    return get_decimal_symbol(language)
