"""A reservoir's shape checked before anybody relies on it: what it holds, where the line starves, and a known filling.

Not here: the geometry (`agronomy.tank`).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from wickwatch.agronomy.tank import LyingCylinder, Tank, tank_from_keys
from wickwatch.errors import InputError
from wickwatch.texts import _, general, number, volume

#: A filling that differs by no more than the first share fits; from the second on, a measure must be wrong. A can is
#: filled to within some percent, and a wall taken for water is some ten millimetres of a diameter. Chosen here.
FITS = 0.04
WRONG = 0.10

#: The drawing: what it is wide and high, and its lines down the wall.
_WIDE, _HIGH, _LINES = 120.0, 132.0, 49


@dataclass(frozen=True)
class Drawing:
    """The tank from the side: `outline` a path, and heights of the water and of where the line starves, from above."""

    outline: str
    water_y: float | None
    starve_y: float


@dataclass(frozen=True)
class TankCheck:
    """What a shape amounts to, in sentences; `missing` instead where the measures are not all there yet."""

    missing: str = ""
    holds: str = ""
    usable: str = ""
    at_level: str = ""
    verdict: str = ""
    fits: bool = True
    drawing: Drawing | None = None


def tank_check(shape: str, values: Mapping[str, object], level_mm: object, known_l: object) -> TankCheck:
    """The check of typed values; `level_mm` above the bottom and `known_l` are a filling that somebody knows."""
    try:
        tank = tank_from_keys(shape, {key: value for key, value in values.items() if value is not None})
        outlet, head = _number(values.get("outlet_mm")), _number(values.get("head_mm"))
        starve = min(max(outlet + head, tank.lowest_mm), tank.height_mm)
        left = float(tank.volume_l(starve))
    except InputError:
        return TankCheck(_("What it holds is told here once its measures are filled in."))
    found = _level(tank, level_mm)
    verdict, fits = _verdict(tank, found, known_l)
    return TankCheck(
        holds=_("Full to the rim it holds %(volume)s.", volume=volume(tank.full_l)),
        usable=_(
            "The line starves at %(level)s mm with %(left)s left, so %(volume)s are of use.",
            level=number(starve),
            left=volume(left),
            volume=volume(tank.full_l - left),
        ),
        at_level=""
        if found is None
        else _(
            "At %(level)s mm it holds %(volume)s.", level=general(found), volume=volume(float(tank.volume_l(found)))
        ),
        verdict=verdict,
        fits=fits,
        drawing=_drawing(tank, found, starve),
    )


def _level(tank: Tank, level_mm: object) -> float | None:
    if not isinstance(level_mm, int | float) or not tank.lowest_mm <= level_mm <= tank.height_mm:
        return None
    return float(level_mm)


def _verdict(tank: Tank, level_mm: float | None, known_l: object) -> tuple[str, bool]:
    if level_mm is None or not isinstance(known_l, int | float) or known_l <= 0:
        return "", True
    share = float(tank.volume_l(level_mm)) / known_l - 1.0
    if abs(share) <= FITS:
        return _("That fits what you poured in, %(volume)s.", volume=volume(known_l)), True
    told = {"share": number(100.0 * abs(share)), "volume": volume(known_l)}
    more = (
        _("That is %(share)s %% more than the %(volume)s you poured in.", **told)
        if share > 0
        else _("That is %(share)s %% less than the %(volume)s you poured in.", **told)
    )
    wrong = abs(share) > WRONG
    look = _("Look at the measures again: inside, not outside, and in mm.") if wrong else _("Measure once more.")
    return f"{more} {look}", False


def _drawing(tank: Tank, level_mm: float | None, starve_mm: float) -> Drawing:
    """The tank's own proportions, as wide and high as there is room."""
    heights = np.linspace(tank.lowest_mm, tank.height_mm, _LINES)
    inside = np.clip(heights, tank.lowest_mm + 1e-6, tank.height_mm - 1e-6)
    widths = (
        tank.area_mm2(inside) / tank.length_mm if isinstance(tank, LyingCylinder) else np.sqrt(tank.area_mm2(inside))
    )
    scale = min(_WIDE / float(widths.max()), _HIGH / tank.height_mm)
    right = [(_WIDE / 2 + w * scale / 2, _HIGH - h * scale) for w, h in zip(widths, heights, strict=True)]
    left = [(_WIDE - x, y) for x, y in reversed(right)]
    outline = "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in [*right, *left]) + "Z"

    def y(height_mm: float) -> float:
        return round(_HIGH - height_mm * scale, 1)

    return Drawing(outline, None if level_mm is None else y(level_mm), y(starve_mm))


def _number(value: object) -> float:
    return float(value) if isinstance(value, int | float) else 0.0
