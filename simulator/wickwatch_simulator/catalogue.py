"""Every event the simulator can inject, as one table: its subject, its alarm, its usual size.

Only data. What an event does to the physics is in `effects`, what it does to readings in `probe_events`; where it
happens is said by a scenario file or drawn in `random_events`. An event without an alarm kind is harmless: a call for
it is a false call.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Literal

Target = Literal["container", "line", "reservoir", "gateway", "room"]
Range = tuple[float, float]

#: Hours of facility time in which people are about, and in which a hot day begins.
WORKING, MORNING = (8.0, 17.0), (9.0, 13.0)


@dataclass(frozen=True)
class EventKind:
    """One kind of event.

    `target` is the type of its subject. `alarm` is the kind of alarm it should raise, `None` if harmless. `hours` is
    the usual range of durations; `values` names its sizes with the range that random events draw from; `begins` is the
    range of hours of the day in which it begins, any hour if `None`.

    An emitter has many times the flow a plant needs, so a clog or lock must leave a hundredth to be felt at all.
    """

    target: Target
    alarm: str | None
    hours: Range
    values: Mapping[str, Range] = field(default_factory=dict)
    begins: Range | None = None


_KINDS: dict[str, EventKind] = {
    # faults of water
    "stuck-open": EventKind("container", "sudden-wetting", (6, 30), {"opening": (0.3, 1.0)}),
    "drifting": EventKind("container", "drying-drift", (144, 336), {"mbar_per_day": (6, 16)}),
    "clogged": EventKind("container", "drying-drift", (48, 120), {"passes": (0.0, 0.006)}),
    "empty-reservoir": EventKind(
        "reservoir", "reservoir-empty", (120, 200), {"hours_empty": (3, 18), "hours_left": (30, 110)}
    ),
    "reservoir-leak": EventKind("reservoir", "reservoir-leak", (24, 96), {"l_per_h": (1.5, 6.0)}),
    "closed-valve": EventKind("line", "supply-interrupted", (18, 48), {"passes": (0.0, 0.002)}),
    "air-lock": EventKind("line", "supply-interrupted", (18, 48), {"passes": (0.0, 0.005), "from_share": (0.0, 0.5)}),
    "uneven-room": EventKind("room", "uneven-room", (168, 336), {"spread_mbar": (25, 40), "share": (0.4, 0.7)}),
    # faults of instruments
    "silent-probe": EventKind("container", "probe-silent", (6, 48)),
    "flat-probe": EventKind("container", "probe-fault", (24, 72)),
    "out-of-range-probe": EventKind("container", "probe-fault", (6, 48), {"reading_mbar": (-90, -30)}),
    "air-entry": EventKind(
        "container",
        "probe-fault",
        (12, 48),
        {"plateau_mbar": (700, 850), "climb_hours": (2, 10), "fall_hours": (0.3, 3)},
    ),
    "noisy-probe": EventKind("container", "probe-fault", (12, 72), {"noise_mbar": (12, 40)}),
    "probe-drift": EventKind("container", "probe-fault", (144, 336), {"mbar_per_day": (5, 12)}),
    "low-battery": EventKind(
        "container", "probe-fault", (72, 168), {"percent_per_day": (8, 20), "gap_share": (0.2, 0.6)}
    ),
    "stuck-level": EventKind("reservoir", "probe-fault", (36, 120)),
    "silent-gateway": EventKind("gateway", "gateway-silent", (1, 12)),
    # harmless
    "hand-watering": EventKind("container", None, (0.05, 0.2), {"share_of_volume": (0.03, 0.12)}, WORKING),
    "hand-watering-room": EventKind("room", None, (0.2, 0.6), {"share_of_volume": (0.03, 0.12)}, WORKING),
    "hot-day": EventKind("room", None, (6, 10), {"degc": (4, 9)}, MORNING),
    "late-lights": EventKind("room", None, (24, 24), {"minutes": (45, 240)}),
    "door-open": EventKind("room", None, (0.5, 3), {"degc": (-8, 5), "rh": (-25, 5)}, WORKING),
    "pruning": EventKind("room", None, (240, 336), {"leaf_share": (0.45, 0.75)}, WORKING),
    "refill-splash": EventKind("reservoir", None, (0.2, 0.6), {"noise_mm": (8, 30)}, WORKING),
    "probe-moved": EventKind("container", None, (72, 240), {"offset_mbar": (-18, 18)}, WORKING),
    "photoperiod-change": EventKind("room", None, (336, 720), {"light_hours": (11, 16)}),
    "plant-removed": EventKind("container", None, (336, 720), {"leaf_share": (0.0, 0.05)}, WORKING),
}

EVENTS: Mapping[str, EventKind] = MappingProxyType(_KINDS)

FAULTS = tuple(name for name, kind in EVENTS.items() if kind.alarm is not None)
HARMLESS = tuple(name for name, kind in EVENTS.items() if kind.alarm is None)

#: Events of probes: what a probe then reports is not the tension of its container.
PROBE_EVENTS = (
    "silent-probe",
    "flat-probe",
    "out-of-range-probe",
    "air-entry",
    "noisy-probe",
    "probe-drift",
    "low-battery",
    "probe-moved",
)
