"""The array habits every module of this package shares.

Here: the float array type, an estimate with its interval, and the checks of arguments. Not here: any formula.
Kept apart so that each subject's module holds nothing but its subject.
"""

from __future__ import annotations

from dataclasses import dataclass
from numbers import Real
from typing import TypeAlias

import numpy as np
from numpy.typing import ArrayLike, NDArray

from wickwatch.errors import InputError
from wickwatch.texts import _

Floats: TypeAlias = NDArray[np.float64]
Bools: TypeAlias = NDArray[np.bool_]
Ints: TypeAlias = NDArray[np.int64]


@dataclass(frozen=True)
class Interval:
    """An estimate and how far it may be off: low <= value <= high, arrays of one shape."""

    value: Floats
    low: Floats
    high: Floats

    @property
    def ends(self) -> tuple[Floats, Floats, Floats]:
        """Value, low and high, to treat all three alike."""
        return self.value, self.low, self.high


def floats(values: ArrayLike) -> Floats:
    """Return `values` as float64 of any shape; NaN means missing and passes through."""
    return np.asarray(values, dtype=np.float64)


def not_negative(thing: str, values: ArrayLike) -> Floats:
    """Return `values` as float64, or raise InputError if any is below zero; NaN passes."""
    array = floats(values)
    if np.any(array < 0.0):
        raise InputError(thing, float(np.nanmin(array)), _("0 or more"))
    return array


def positive(thing: str, values: ArrayLike) -> Floats:
    """Return `values` as float64, or raise InputError if any is zero or below; NaN passes."""
    array = floats(values)
    if np.any(array <= 0.0):
        raise InputError(thing, float(np.nanmin(array)), "more than 0")
    return array


def within(thing: str, values: ArrayLike, low: float, high: float) -> Floats:
    """Return `values` as float64, or raise InputError if any lies outside [low, high]; NaN passes."""
    array = floats(values)
    outside = (array < low) | (array > high)
    if np.any(outside):
        raise InputError(thing, float(array[outside].flat[0]), f"{low:g} to {high:g}")
    return array


def positive_number(thing: str, value: object) -> float:
    """Return one finite number above zero as float, or raise InputError; texts and truth values are none."""
    if isinstance(value, Real) and not isinstance(value, bool):
        number = float(value)
        if np.isfinite(number) and number > 0.0:
            return number
    raise InputError(thing, value, _("one finite number above 0"))
