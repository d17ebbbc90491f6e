"""Level to volume and back, for the shapes a reservoir can have.

Here: geometry of a standing tank, and building one from a fleet file's keys (`tank_from_keys`). Not here:
where the outlet is, what a sensor reads, or how fast it empties. Levels count from the bottom of the tank
[mm], volumes are litres, arrays of any shape; NaN passes through. A level or volume outside the tank raises
InputError, so that a wrong sensor zero can't pass as water; a caller that expects sensor noise at rim or
bottom says so by `clip_level_mm`.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, fields

import numpy as np
from numpy.typing import ArrayLike

from wickwatch.agronomy.arrays import Floats, floats, positive_number, within
from wickwatch.errors import InputError
from wickwatch.texts import _

MM3_PER_L = 1e6


@dataclass(frozen=True, kw_only=True)
class Tank(ABC):
    """What every shape answers; a shape supplies the underscored parts, for levels known to be inside."""

    height_mm: float

    def __post_init__(self) -> None:
        for size in fields(self):
            if size.init:
                positive_number(size.name, getattr(self, size.name))

    @property
    def lowest_mm(self) -> float:
        """Lowest level the shape knows: the bottom, unless a strapping table starts higher."""
        return 0.0

    @property
    def full_l(self) -> float:
        """Volume at the highest level."""
        return float(self._volume_l(floats(self.height_mm)))

    def volume_l(self, level_mm: ArrayLike) -> Floats:
        """Return the volume [l] below a level [mm above the bottom]."""
        return self._volume_l(within("level in mm", level_mm, self.lowest_mm, self.height_mm))

    def level_mm(self, volume_l: ArrayLike) -> Floats:
        """Return the level [mm above the bottom] at which a volume [l] stands."""
        least = float(self._volume_l(floats(self.lowest_mm)))
        return self._level_mm(within("volume in l", volume_l, least, self.full_l))

    def area_mm2(self, level_mm: ArrayLike) -> Floats:
        """Return the area of the water's surface [mm2], which is dV/dh."""
        return self._area_mm2(within("level in mm", level_mm, self.lowest_mm, self.height_mm))

    def clip_level_mm(self, level_mm: ArrayLike) -> Floats:
        """Return levels with those outside the tank moved to its bottom or rim."""
        return np.clip(floats(level_mm), self.lowest_mm, self.height_mm)

    def usable_l(self, level_mm: ArrayLike, empty_level_mm: float) -> Floats:
        """Return the volume [l] above the level that counts as empty; 0 below it."""
        return np.maximum(self.volume_l(level_mm) - self.volume_l(empty_level_mm), 0.0)

    @abstractmethod
    def _volume_l(self, level_mm: Floats) -> Floats: ...
    @abstractmethod
    def _level_mm(self, volume_l: Floats) -> Floats: ...
    @abstractmethod
    def _area_mm2(self, level_mm: Floats) -> Floats: ...


@dataclass(frozen=True, kw_only=True)
class _Upright(Tank):
    """A tank with vertical walls."""

    @property
    @abstractmethod
    def _base_mm2(self) -> float: ...

    def _volume_l(self, level_mm: Floats) -> Floats:
        return level_mm * (self._base_mm2 / MM3_PER_L)

    def _level_mm(self, volume_l: Floats) -> Floats:
        return volume_l / (self._base_mm2 / MM3_PER_L)

    def _area_mm2(self, level_mm: Floats) -> Floats:
        return np.where(np.isnan(level_mm), np.nan, self._base_mm2)


@dataclass(frozen=True, kw_only=True)
class Cylinder(_Upright):
    """A standing cylinder of inner diameter and height [mm]."""

    diameter_mm: float

    @property
    def _base_mm2(self) -> float:
        return float(np.pi) * self.diameter_mm**2 / 4.0


@dataclass(frozen=True, kw_only=True)
class Box(_Upright):
    """A box of inner length, width and height [mm]."""

    length_mm: float
    width_mm: float

    @property
    def _base_mm2(self) -> float:
        return self.length_mm * self.width_mm


@dataclass(frozen=True, kw_only=True)
class Frustum(Tank):
    """A tapered round tank, such as a bucket, of inner diameters at its bottom and top, and height [mm].

    V = pi h (r1^2 + r1 r2 + r2^2) / 3, with r2 the radius at the water line.
    """

    bottom_mm: float
    top_mm: float

    def _radius_mm(self, level_mm: Floats) -> Floats:
        return (self.bottom_mm + (self.top_mm - self.bottom_mm) * level_mm / self.height_mm) / 2.0

    def _volume_l(self, level_mm: Floats) -> Floats:
        low, line = self.bottom_mm / 2.0, self._radius_mm(level_mm)
        return np.pi * level_mm * (low**2 + low * line + line**2) / (3.0 * MM3_PER_L)

    def _level_mm(self, volume_l: Floats) -> Floats:
        low = self.bottom_mm / 2.0
        slope = (self.top_mm - self.bottom_mm) / (2.0 * self.height_mm)
        cone = 3.0 * volume_l * MM3_PER_L / np.pi
        line = np.cbrt(low**3 + slope * cone)
        # (line - low) / slope would divide zero by zero for straight walls; this is the same number.
        return floats(cone / (low**2 + low * line + line**2))

    def _area_mm2(self, level_mm: Floats) -> Floats:
        return floats(np.pi * self._radius_mm(level_mm) ** 2)


@dataclass(frozen=True, kw_only=True)
class LyingCylinder(Tank):
    """A horizontal cylinder with flat ends, of inner diameter and length [mm]; its height is its diameter.

    With a the angle that the water line spans at the axis: V = L R^2 (a - sin a) / 2.
    """

    height_mm: float = field(init=False)
    diameter_mm: float
    length_mm: float

    def __post_init__(self) -> None:
        object.__setattr__(self, "height_mm", self.diameter_mm)
        super().__post_init__()

    def _volume_l(self, level_mm: Floats) -> Floats:
        angle = 4.0 * np.arcsin(np.sqrt(level_mm / self.diameter_mm))
        return self.length_mm * self.diameter_mm**2 / 8.0 * (angle - np.sin(angle)) / MM3_PER_L

    def _level_mm(self, volume_l: Floats) -> Floats:
        share = volume_l / self.full_l
        upper = share > 0.5
        angle = _segment_angle(np.where(upper, 1.0 - share, share))
        level = self.diameter_mm * np.sin(angle / 4.0) ** 2
        return np.where(upper, self.diameter_mm - level, level)

    def _area_mm2(self, level_mm: Floats) -> Floats:
        return 2.0 * self.length_mm * np.sqrt(level_mm * (self.diameter_mm - level_mm))


def _segment_angle(share: Floats) -> Floats:
    """Solve a - sin a = 2 pi share for a, share in [0, 0.5], by Newton's method.

    The start, a^3 = 12 pi share, lies below the root of a convex curve: six steps reach double precision.
    """
    target = 2.0 * np.pi * share
    angle = np.cbrt(6.0 * target)
    for _step in range(6):
        slope = 1.0 - np.cos(angle)
        angle = angle - (angle - np.sin(angle) - target) / np.where(slope > 0.0, slope, 1.0)
    return angle


@dataclass(frozen=True, kw_only=True)
class Table(Tank):
    """A strapping table: rows of (level [mm], volume [l]), both rising; linear between rows."""

    height_mm: float = field(init=False)
    strapping: tuple[tuple[float, float], ...]

    def __post_init__(self) -> None:
        try:
            rows = floats(self.strapping)
        except (TypeError, ValueError):
            rows = floats([])
        if rows.ndim != 2 or rows.shape[0] < 2 or rows.shape[1] != 2 or not np.isfinite(rows).all():
            raise InputError("strapping", self.strapping, _("two or more rows of level in mm and litres"))
        if rows[0].min() < 0.0 or not (np.diff(rows, axis=0) > 0.0).all():
            raise InputError("strapping", self.strapping, _("levels and litres from 0, both rising row by row"))
        object.__setattr__(self, "strapping", tuple((float(level), float(litres)) for level, litres in rows))
        object.__setattr__(self, "height_mm", float(rows[-1, 0]))

    @property
    def lowest_mm(self) -> float:
        """Level of the first row."""
        return self.strapping[0][0]

    def _volume_l(self, level_mm: Floats) -> Floats:
        levels, litres = floats(self.strapping).T
        return floats(np.interp(level_mm, levels, litres))

    def _level_mm(self, volume_l: Floats) -> Floats:
        levels, litres = floats(self.strapping).T
        return floats(np.interp(volume_l, litres, levels))

    def _area_mm2(self, level_mm: Floats) -> Floats:
        levels, litres = floats(self.strapping).T
        row = np.clip(np.searchsorted(levels, level_mm, side="right") - 1, 0, len(levels) - 2)
        area = (np.diff(litres) / np.diff(levels) * MM3_PER_L)[row]
        return np.where(np.isnan(level_mm), np.nan, area)


# Per shape of the fleet file: its class and the keys it needs.
_SHAPES: Mapping[str, tuple[Callable[..., Tank], tuple[str, ...]]] = {
    "cylinder": (Cylinder, ("diameter_mm", "height_mm")),
    "box": (Box, ("length_mm", "width_mm", "height_mm")),
    "frustum": (Frustum, ("bottom_mm", "top_mm", "height_mm")),
    "lying-cylinder": (LyingCylinder, ("diameter_mm", "length_mm")),
    "table": (Table, ("strapping",)),
}
SHAPES = tuple(_SHAPES)


def tank_from_keys(shape: str, keys: Mapping[str, object]) -> Tank:
    """Return the tank that a reservoir's keys in a fleet file describe; keys of other meaning are left alone.

    Raises InputError for an unknown shape, a missing key, a size not above 0, or a bad strapping table.
    """
    if shape not in _SHAPES:
        raise InputError("shape", shape, ", ".join(SHAPES))
    build, needed = _SHAPES[shape]
    for key in needed:
        if key not in keys:
            raise InputError(key, None, _("a value: a %(shape)s needs %(value)s", shape=shape, value=", ".join(needed)))
    return build(**{key: keys[key] for key in needed})
