"""Rooms made from a scenario's templates: one room after another, each with its own draws of sizes and quirks.

Every number of a room comes from a generator keyed by seed and room, so that a fleet of 300 rooms begins with the same
rooms as one of 12. Not here: reading the file (`scenario_file`).
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping

import numpy as np

from wickwatch_simulator import demand, keyed
from wickwatch_simulator.lines import segment_loss
from wickwatch_simulator.plan import Climate, Container, Emitter, Growth, Habit, Line, Probe, Reservoir, Room
from wickwatch_simulator.template import Template


def device(seed: int, number: int) -> str:
    """Device name of RFC 9039 from a made-up EUI-64: the locally administered bit is set, so that no maker owns it."""
    return f"urn:dev:mac:0224be{seed & 0xFF:02x}{number:08x}"


def room(template: Template, seed: int, number: int, slug: str, facility: str, gateway: str) -> Room:
    """The room with this number (from 0, over the whole fleet), after `template`."""
    rng = keyed.generator(seed, "room", number)
    devices = (device(seed, number * 256 + i) for i in range(256))
    lines, reservoirs, containers = [], [], []
    count = int(rng.integers(template.containers[0], template.containers[1] + 1))
    for at, names in enumerate(np.array_split(np.arange(1, count + 1), template.reservoirs)):
        suffix = "" if template.reservoirs == 1 else "-" + "abcdefgh"[at]
        line = Line(
            f"line{suffix}",
            f"tank{suffix}",
            template.line,
            segment_loss(template.bore_mm, template.spacing_m),
        )
        pots = [_container(template, rng, f"pot-{n:02d}", line.slug, i, devices) for i, n in enumerate(names)]
        lines.append(line)
        containers += pots
        reservoirs.append(
            _reservoir(template, rng, line.reservoir, _tank_name(number, at, template), pots, next(devices))
        )
    air = next(devices)
    return Room(
        facility=facility,
        slug=slug,
        name=f"{template.name} {number + 1}",
        gateway=gateway,
        lights_on_min=template.lights_on_min,
        lights_off_min=template.lights_off_min,
        rules=template.rules,
        climate=Climate(
            template.day_degc,
            template.night_degc,
            template.day_rh,
            template.night_rh,
            60.0 * rng.uniform(20, 45),
        ),
        growth=Growth(float(rng.uniform(*template.age_days)), template.half_days, template.half_days / 4),
        reservoirs=tuple(reservoirs),
        lines=tuple(lines),
        containers=tuple(containers),
        temperature_channel=f"{air}:temperature",
        humidity_channel=f"{air}:humidity",
    )


def _tank_name(number: int, at: int, template: Template) -> str:
    sides = ("", "") if template.reservoirs == 1 else ("east", "west")
    return f"R{number + 1} {sides[at % 2]}".strip() if template.reservoirs <= 2 else f"R{number + 1} tank {at + 1}"


def _emitter(template: Template, rng: np.random.Generator) -> Emitter:
    return Emitter(
        set_point_mbar=float(template.set_point_mbar + rng.normal(0, template.set_point_spread_mbar)),
        band_mbar=float(rng.uniform(25, 40)),
        play_mbar=float(rng.uniform(8, 14)),
        cup_lag_s=60.0 * float(rng.uniform(4, 9)),
        full_l_per_h=float(template.full_l_per_h * rng.uniform(0.8, 1.25)),
    )


def _probe(rng: np.random.Generator, name: str) -> Probe:
    """Accuracy of small electronic tensiometers, from memory: a few mbar of offset, tenths of noise."""
    return Probe(
        channel=f"{name}:tension",
        lag_s=float(rng.uniform(60, 300)),
        offset_mbar=float(rng.normal(0, 2.0)),
        temperature_mbar_per_degc=float(rng.normal(0, 0.25)),
        noise_mbar=float(rng.uniform(0.2, 0.8)),
        resolution_mbar=float(rng.choice([0.1, 0.5, 1.0])),
        air_entry_mbar=float(rng.uniform(720, 850)),
    )


def _container(
    template: Template, rng: np.random.Generator, slug: str, line: str, position: int, devices: Iterator[str]
) -> Container:
    probe = _probe(rng, next(devices))
    twin = _probe(rng, next(devices)) if rng.random() < template.twin_share else None
    return Container(
        slug=slug,
        line=line,
        position=position,
        volume_l=template.volume_l,
        height_mm=template.height_mm,
        medium=template.medium,
        wetting_share=template.wetting_share,
        stands_for=int(rng.integers(template.stands_for[0], template.stands_for[1] + 1)),
        plant_l_per_day=float(template.plant_l_per_day * rng.lognormal(0, 0.15)),
        spread_s=60.0 * float(rng.uniform(6, 14)),
        emitter=_emitter(template, rng),
        companion=_emitter(template, rng),
        probe=probe,
        twin=twin,
    )


def _reservoir(
    template: Template, rng: np.random.Generator, slug: str, name: str, pots: list[Container], dev: str
) -> Reservoir:
    lit_hours = ((template.lights_off_min - template.lights_on_min) % 1440 or 1440) / 60.0
    per_day = demand.day_worth(lit_hours) * sum(pot.plant_l_per_day * pot.stands_for for pot in pots)
    days = float(rng.uniform(*template.water_days))
    keys = tank_keys(template.shape, days * per_day)
    daily = rng.random() < 0.4
    # Who is away at the weekend fills sooner.
    least_days = 3.0 if daily else 5.5
    return Reservoir(
        slug=slug,
        name=name,
        keys=keys,
        sensor_zero_mm=float(rng.choice([0, 0, 10, 20])),
        outlet_mm=40.0,
        head_mm=30.0,
        stand_mm=float(rng.uniform(400, 900)),
        start_share=float(rng.uniform(0.6, 0.95)),
        evaporation_l_per_h=0.00002 * per_day * float(rng.uniform(5, 30)),
        noise_mm=float(rng.uniform(0.5, 1.5)),
        resolution_mm=1.0,
        habit=Habit(
            hour=int(rng.integers(8, 16)),
            weekdays=(0, 1, 2, 3, 4, 5, 6) if daily else (0, 1, 2, 3, 4),
            below_share=min(max(float(rng.uniform(0.35, 0.6)), least_days / days), 0.8),
            fill_share=float(rng.uniform(0.88, 0.96)),
            forget_share=0.05,
            hose_l_per_h=float(rng.uniform(700, 1500)),
        ),
        channel=f"{dev}:level",
    )


def tank_keys(shape: str, volume_l: float) -> Mapping[str, object]:
    """Keys of the fleet file for a tank of about this volume, in proportions tanks are made in; whole centimetres."""

    def cm(mm: float) -> float:
        return max(round(mm / 10.0) * 10.0, 100.0)

    mm3 = volume_l * 1e6
    if shape == "cylinder":  # as high as 1.2 diameters
        d = cm((mm3 * 4 / (1.2 * math.pi)) ** (1 / 3))
        return {"shape": shape, "diameter_mm": d, "height_mm": cm(mm3 * 4 / math.pi / d**2)}
    if shape == "box":  # 1.5 : 1 : 1
        w = cm((mm3 / 1.5) ** (1 / 3))
        return {
            "shape": shape,
            "length_mm": cm(1.5 * w),
            "width_mm": w,
            "height_mm": cm(mm3 / (cm(1.5 * w) * w)),
        }
    if shape == "frustum":  # bottom 0.8 of top, as high as the top is wide
        top = cm((mm3 * 12 / (math.pi * (1 + 0.8 + 0.64))) ** (1 / 3))
        return {"shape": shape, "bottom_mm": cm(0.8 * top), "top_mm": top, "height_mm": top}
    if shape == "lying-cylinder":  # twice as long as wide
        d = cm((mm3 * 4 / (2 * math.pi)) ** (1 / 3))
        return {"shape": shape, "diameter_mm": d, "length_mm": cm(mm3 * 4 / math.pi / d**2)}
    # a moulded tank with a narrow foot, known only by its strapping table
    height = cm((mm3 / 0.9) ** (1 / 3))
    shares = ((0.0, 0.0), (0.1, 0.06), (0.3, 0.25), (0.6, 0.58), (0.9, 0.93), (1.0, 1.0))
    return {
        "shape": "table",
        "height_mm": height,
        "strapping": [[round(h * height, 1), round(v * volume_l, 2)] for h, v in shares],
    }
