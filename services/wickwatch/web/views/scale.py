"""All tensions of a room on one small scale, the same for every room: its band always lies at the same place.

A container's place is counted in its own band, so that rooms with unlike limits can be read down one column: the wet
limit stands at 30 % of the width, the dry limit at 70 %, and what lies beyond the ends is drawn at the end. Not here:
the chart over time (`chart`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from wickwatch.texts import _, tension, tension_unit
from wickwatch.web.views.state import ContainerState

#: Units across the scale, and where the limits stand on it.
WIDTH = 200
WET, DRY = 60, 140

#: Heights that neighbours alternate between, so that like tensions do not hide one another.
_LANES = (5, 9, 1)


@dataclass(frozen=True)
class Mark:
    """One container outside its band, `x_percent` from the left."""

    x_percent: float
    name: str
    tension_mbar: float


@dataclass(frozen=True)
class Scale:
    """`dots` is an SVG path of one dot for each container in its band; the rest are drawn with a shape of their own.

    `resting` is such a path of those out of service, wherever they lie.
    """

    dots: str
    resting: str
    dry: tuple[Mark, ...]
    wet: tuple[Mark, ...]
    set_point_percent: float
    label: str


def scale(containers: Sequence[ContainerState]) -> Scale | None:
    """The scale of a room, None where no container has a reading that counts."""
    heard = [c for c in containers if c.place in ("in-band", "dry", "wet")]
    read = [c for c in heard if not c.out]
    if not heard:
        return None
    resting = "".join(f"M{_x(c):.0f} {_LANES[0]}h0" for c in heard if c.out)
    if not read:
        return Scale("", resting, (), (), _middle(heard[0]), _("all out of service"))
    read.sort(key=lambda c: c.row.tension_mbar or 0.0)
    inside = [c for c in read if c.place == "in-band"]
    dots = "".join(f"M{_x(c):.0f} {_LANES[number % 3]}h0" for number, c in enumerate(inside))
    low, high = (read[place].row.tension_mbar or 0.0 for place in (0, -1))
    wet, dry = (tuple(_mark(c) for c in read if c.place == place) for place in ("wet", "dry"))
    outside = [_("%(num)s too dry", num=len(dry))] if dry else []
    outside += [_("%(num)s too wet", num=len(wet))] if wet else []
    counts = {"num": len(read), "all": len(containers), "low": tension_unit().number(low), "high": tension(high)}
    seen = _("%(num)s of %(all)s read, %(low)s to %(high)s", **counts)
    label = ", ".join([seen, *(outside or [_("all in the band")])])
    return Scale(dots, resting, dry, wet, _middle(read[0]), label)


def _middle(container: ContainerState) -> float:
    """Where the set point stands, in percent."""
    rules = container.rules
    share = (rules.set_point_mbar - rules.wet_limit_mbar) / (rules.dry_limit_mbar - rules.wet_limit_mbar)
    return 100.0 * (WET + (DRY - WET) * share) / WIDTH


def _x(container: ContainerState) -> float:
    rules = container.rules
    tension = container.row.tension_mbar or 0.0
    share = (tension - rules.wet_limit_mbar) / (rules.dry_limit_mbar - rules.wet_limit_mbar)
    return min(max(WET + (DRY - WET) * share, 4.0), WIDTH - 4.0)


def _mark(container: ContainerState) -> Mark:
    return Mark(round(100.0 * _x(container) / WIDTH, 1), container.row.name, container.row.tension_mbar or 0.0)
