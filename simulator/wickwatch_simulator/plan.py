"""What a simulated fleet consists of, as plain frozen data: facilities, rooms, reservoirs, lines, containers.

Not here: how a scenario file becomes these (`scenario`, `build`), nor what happens in them (`effects`). They hold true
properties of things (an emitter's band, a probe's lag) that the fleet file does not tell; a watcher must not read them.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field


@dataclass(frozen=True)
class Probe:
    """An electronic tensiometer. `lag_s` is its time constant, `temperature_mbar_per_degc` its error per degree."""

    channel: str
    lag_s: float
    offset_mbar: float
    temperature_mbar_per_degc: float
    noise_mbar: float
    resolution_mbar: float
    air_entry_mbar: float


@dataclass(frozen=True)
class Emitter:
    """A tension-actuated drip valve.

    Fully open at `set_point_mbar + band_mbar`; `play_mbar` is the tension its membrane swallows before it moves the
    other way; the ceramic cup follows the medium with `cup_lag_s`. `full_l_per_h` flows fully open at 1000 mm of head.
    """

    set_point_mbar: float
    band_mbar: float
    play_mbar: float
    cup_lag_s: float
    full_l_per_h: float


@dataclass(frozen=True)
class Container:
    """A pot or bed; its probe stands for `stands_for` like ones, which are simulated as one companion beside it."""

    slug: str
    line: str
    position: int
    volume_l: float
    height_mm: float
    medium: str
    wetting_share: float
    stands_for: int
    plant_l_per_day: float
    spread_s: float
    emitter: Emitter
    companion: Emitter
    probe: Probe
    twin: Probe | None = None


@dataclass(frozen=True)
class Line:
    """Tubing; `kind` is `loop` or `dead-end`; loss of one segment between neighbours in mm head per l/h."""

    slug: str
    reservoir: str
    kind: str
    loss_mm_per_l_h: float


@dataclass(frozen=True)
class Habit:
    """How people refill: when they look, below and up to what share they fill, how often they forget."""

    hour: int
    weekdays: tuple[int, ...]
    below_share: float
    fill_share: float
    forget_share: float
    hose_l_per_h: float


@dataclass(frozen=True)
class Reservoir:
    """A tank; `keys` are those of the fleet file. `stand_mm` is how far its outlet lies above the drip points."""

    slug: str
    name: str
    keys: Mapping[str, object]
    sensor_zero_mm: float
    outlet_mm: float
    head_mm: float
    stand_mm: float
    start_share: float
    evaporation_l_per_h: float
    noise_mm: float
    resolution_mm: float
    habit: Habit
    channel: str


@dataclass(frozen=True)
class Climate:
    """Room air: targets by day and night, and the time constant with which the air follows."""

    day_degc: float
    night_degc: float
    day_rh: float
    night_rh: float
    lag_s: float


@dataclass(frozen=True)
class Growth:
    """Plant size follows a logistic curve: share of full size at `age_days`, half-way at `half_days`."""

    age_days: float
    half_days: float
    spread_days: float


@dataclass(frozen=True)
class Room:
    """A room with its own photoperiod, in minutes of facility time."""

    facility: str
    slug: str
    name: str
    gateway: str
    lights_on_min: int
    lights_off_min: int
    rules: Mapping[str, float]
    climate: Climate
    growth: Growth
    reservoirs: tuple[Reservoir, ...]
    lines: tuple[Line, ...]
    containers: tuple[Container, ...]
    temperature_channel: str
    humidity_channel: str


@dataclass(frozen=True)
class Gateway:
    """What publishes; shares are of messages, `batch_s` gathers readings, `clock_s` is how far its clock is off."""

    slug: str
    drop_share: float = 0.0
    repeat_share: float = 0.0
    reorder_share: float = 0.0
    batch_s: int = 0
    clock_s: float = 0.0


@dataclass(frozen=True)
class Facility:
    """A site with one time zone; limits that hold for its rooms."""

    slug: str
    name: str
    zone: str
    rules: Mapping[str, float]
    gateways: tuple[Gateway, ...]
    rooms: tuple[Room, ...] = field(default=())
