"""A template: the kind of room a scenario deals out, with ranges that each room draws from.

Defaults are common practice in rooms of potted plants. Not here: the draws themselves (`build`).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from wickwatch.agronomy.media import MEDIA
from wickwatch_simulator.read_toml import Table

SHAPES = ("cylinder", "box", "frustum", "lying-cylinder", "table")


@dataclass(frozen=True)
class Template:
    """One kind of room. Pairs are [least, most]."""

    name: str
    medium: str
    wetting_share: float
    volume_l: float
    height_mm: float
    containers: tuple[int, int]
    stands_for: tuple[int, int]
    twin_share: float
    plant_l_per_day: float
    age_days: tuple[float, float]
    half_days: float
    lights_on_min: int
    lights_off_min: int
    day_degc: float
    night_degc: float
    day_rh: float
    night_rh: float
    rules: Mapping[str, float]
    set_point_mbar: float
    set_point_spread_mbar: float
    full_l_per_h: float
    line: str
    bore_mm: float
    spacing_m: float
    reservoirs: int
    shape: str
    water_days: tuple[float, float]


def template(where: str, values: object) -> Template:
    """Read one template; raises InputError as `read_toml` does."""
    t = Table(where, values)
    volume = t.number("volume_l", 0.5, 2000, 20)
    containers = t.range("containers", 1, 60, [10, 14])
    stands_for = t.range("stands_for", 1, 100, [1, 4])
    rules = t.numbers("rules")
    made = Template(
        name=t.text("name"),
        medium=t.text("medium", "peat-perlite", tuple(MEDIA)),
        # Hysteresis: main wetting curves have twice the alpha (Kool and Parker 1987, from memory), of which the
        # scanning curves of one watering show a part; chosen here.
        wetting_share=t.number("wetting_share", 0.5, 1, 0.9),
        volume_l=volume,
        # A pot is about as high as wide; a bed says its own height.
        height_mm=t.number("height_mm", 40, 1000, 10 * round((volume * 1e6 * 4 / 3.1416) ** (1 / 3) / 10)),
        containers=(int(containers[0]), int(containers[1])),
        stands_for=(int(stands_for[0]), int(stands_for[1])),
        twin_share=t.number("twin_share", 0, 1, 0.15),
        plant_l_per_day=t.number("plant_l_per_day", 0.01, 100, 0.09 * volume),
        age_days=t.range("age_days", 0, 1000, [20, 60]),
        half_days=t.number("half_days", 1, 365, 25),
        lights_on_min=t.clock("lights_on", "06:00"),
        lights_off_min=t.clock("lights_off", "18:00"),
        day_degc=t.number("day_degc", 5, 45, 25),
        night_degc=t.number("night_degc", 5, 45, 20),
        day_rh=t.number("day_rh", 10, 99, 60),
        night_rh=t.number("night_rh", 10, 99, 65),
        rules=rules,
        set_point_mbar=rules.get("set_point_mbar", 100.0),
        set_point_spread_mbar=t.number("set_point_spread_mbar", 0, 50, 4),
        full_l_per_h=t.number("full_l_per_h", 0.05, 100, 0.25 * volume),
        line=t.text("line", "loop", ("loop", "dead-end")),
        bore_mm=t.number("bore_mm", 3, 50, 9),
        spacing_m=t.number("spacing_m", 0.1, 20, 1.0),
        reservoirs=t.whole("reservoirs", 1, 4, 1),
        shape=t.text("shape", "cylinder", SHAPES),
        water_days=t.range("water_days", 1, 60, [8, 14]),
    )
    t.done()
    return made
