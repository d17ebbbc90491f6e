"""The truth: what was injected and what really came of it, one record per event, by the contract's section 6.

`observe` watches each segment, `lines` writes the records. `detail` holds `kind` (the alarm that should be raised,
null if harmless), `harmless`, `onset` (from when it is there, null if it never came to that), `required` (false: a
call is right, its absence no fault), the event's own numbers, and `explained` (subjects that suffer from it). Not here:
comparing with alarms (`score`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from wickwatch.agronomy.arrays import Floats
from wickwatch_simulator import engine, water_watch
from wickwatch_simulator.catalogue import EVENTS
from wickwatch_simulator.climate import utc_offset_min
from wickwatch_simulator.effects import Effects
from wickwatch_simulator.engine import Sampled
from wickwatch_simulator.placed import Placed
from wickwatch_simulator.probe_events import BATTERY_LOW_PERCENT, LOW_BATTERY
from wickwatch_simulator.scenario import Scenario

if TYPE_CHECKING:
    from wickwatch_simulator.simulation import Simulation

#: Limits where neither facility nor room gives any; the fleet file then gives none either.
WET_LIMIT_MBAR, DRY_LIMIT_MBAR = 60.0, 180.0
#: Events whose passing of limits is noted.
FOLLOWED = ("stuck-open", "drifting", "clogged", "closed-valve", "air-lock")
#: Events by which containers of a line get no water; it can be felt once one of them asks for some.
STARVING = ("closed-valve", "air-lock")
HOUR_S = 3600


@dataclass(frozen=True)
class Filled:
    """A refill: which reservoir, from when, how much."""

    reservoir: int
    at_s: float
    litres: float

    def row(self) -> tuple[float, float, float]:
        """As it is saved."""
        return float(self.reservoir), self.at_s, self.litres


def observe(sim: Simulation, got: Sampled, active: Sequence[Placed], effects: Effects, end_s: int) -> None:
    """Note what came of the active events, with their effects, in a segment that ended at `end_s`."""
    records, w, state = sim.records, sim.world, sim.state
    water_watch.look(sim.water, w, state, got, end_s)
    for event in active:
        n = event.number
        if event.event in FOLLOWED and len(got.at_s):
            here = _containers(sim, event)
            wet, dry = sim.limits
            for seen, past in (
                (records.wet_s, got.tension_mbar[:, here] <= wet[here]),
                (records.dry_s, got.tension_mbar[:, here] >= dry[here]),
            ):
                if np.isnan(seen[n]) and past.any():
                    seen[n] = float(got.at_s[np.argmax(past.any(axis=1))])
        if event.event == "stuck-open" and np.isnan(records.excess_l_per_h[n]) and end_s >= event.begin_s + 3600:
            i = event.index
            usual = w.plant_l_per_h[i] * 13.0 / 24.0
            records.excess_l_per_h[n] = max(state.flow_l_per_h[i] - usual, 0.0)
        # On the hour, so that a run in pieces tells the same; it may have been open since the hour before.
        if event.event in STARVING and end_s % HOUR_S == 0 and np.isnan(records.due_s[n]):
            here = _containers(sim, event)
            starved = here[effects.passes[here] < 1.0]
            if (engine.open_share(w, state, effects)[starved] > 0.0).any():
                records.due_s[n] = max(event.begin_s, float(end_s - HOUR_S))
        if event.event == "empty-reservoir":
            _ran_dry(sim, event)


def _ran_dry(sim: Simulation, event: Placed) -> None:
    """Some hours after a forgotten reservoir is empty somebody comes and fills it, and the event is over."""
    spell, n = sim.water.running(1, event.index), event.number
    if spell is None or not np.isnan(sim.records.empty_s[n]) or spell[2] < event.begin_s:
        return
    sim.records.empty_s[n] = spell[2]
    # Events are looked at on the hour, so it ends on one.
    over = float(np.ceil((spell[2] / 3600.0) + event.values["hours_empty"]) * 3600.0)
    sim.records.over_s[n] = over
    if over < event.end_s:
        i, state, full = event.index, sim.state, sim.world.tanks.full_l
        plan = sim.world.reservoir_plans[i]
        state.refill_begin_s[i], state.refill_to_l[i] = over, plan.habit.fill_share * full[i]
        state.refill_l_per_h[i] = plan.habit.hose_l_per_h
        sim.refills.append(Filled(i, over, state.refill_to_l[i] - state.volume_l[i]))


def _containers(sim: Simulation, event: Placed) -> NDArray[np.intp]:
    """Probed containers an event of water happens to."""
    n = sim.world.probed
    if EVENTS[event.event].target == "container":
        return np.array([event.index])
    if EVENTS[event.event].target == "line":
        return np.flatnonzero(sim.world.line_of[:n] == event.index)
    return np.flatnonzero(sim.world.reservoir_of[:n] == event.index)


def limits(sim: Simulation) -> tuple[Floats, Floats]:
    """Wet and dry limit of each probed container, inherited as in the fleet file, shape (N,)."""
    rules = {f.slug: f.rules for f in sim.scenario.facilities}
    plans = sim.world.room_plans
    per_room = [{**rules[r.facility], **r.rules} for r in plans]
    rooms = sim.world.room_of[: sim.world.probed]
    wet = np.array([r.get("wet_limit_mbar", WET_LIMIT_MBAR) for r in per_room])[rooms]
    return wet, np.array([r.get("dry_limit_mbar", DRY_LIMIT_MBAR) for r in per_room])[rooms]


def lines(sim: Simulation) -> list[dict[str, object]]:
    """All records up to now, in order of their beginning."""
    now = sim.now.timestamp()
    found = [_planned(sim, e, now) for e in sim.placed if e.begin_s <= now]
    planned = {(e.index, float(sim.records.empty_s[e.number])) for e in sim.placed if e.event == "empty-reservoir"}
    # A planned run-out already tells of its empty spell.
    found += [_spell(sim, row) for row in sim.water.rows if row[0] == 0 or (int(row[1]), row[2]) not in planned]
    found += [_lost_water(sim, row) for row in sim.dry_probes]
    found += _runs(sim, now)
    found += [_refill(sim, f) for f in sim.refills if f.at_s <= now]
    found += clock_changes(sim.scenario, now)
    return sorted(found, key=lambda r: (str(r["from"]), str(r["event"]), str(r["facility"]), str(r["subject"])))


def _planned(sim: Simulation, event: Placed, now: float) -> dict[str, object]:
    plan, records, n = sim.scenario.events[event.number], sim.records, event.number
    kind = EVENTS[event.event]
    over = np.nanmin([event.end_s, records.over_s[n]])
    onset: float | None = event.begin_s
    detail: dict[str, object] = {"kind": kind.alarm, "harmless": kind.alarm is None}
    if event.event == "empty-reservoir":
        onset = None if np.isnan(records.empty_s[n]) else float(records.empty_s[n])
    elif event.event == "low-battery":
        onset = event.begin_s + 86400.0 * (LOW_BATTERY[0] - BATTERY_LOW_PERCENT) / event.values["percent_per_day"]
        onset = onset if onset < min(over, now) else None
    elif event.event in ("drifting", "clogged"):
        detail["dry_limit_at"] = _iso(records.dry_s[n])
    elif event.event == "stuck-open":
        detail["wet_limit_at"] = _iso(records.wet_s[n])
        excess = records.excess_l_per_h[n]
        detail["excess_l_per_h"] = None if np.isnan(excess) else round(float(excess), 3)
    elif event.event in STARVING:
        detail["dry_limit_at"] = _iso(records.dry_s[n])
        detail["due_at"] = _iso(records.due_s[n])
    detail["onset"] = None if onset is None else _iso(onset)
    detail |= {name: round(value, 4) for name, value in event.values.items()}
    if kind.target in ("line", "reservoir"):
        detail["explained"] = [sim.world.container_plans[i].slug for i in _containers(sim, event)]
        room = sim.world.room_plans[event.room]
        detail["name"] = next((r.name for r in room.reservoirs if r.slug == plan.subject), plan.subject)
    if kind.target == "gateway":
        behind = [r for r in sim.world.room_plans if (r.facility, r.gateway) == (plan.facility, plan.subject)]
        detail["rooms"] = [r.slug for r in behind]
        things = {slug for r in behind for slug in (*(c.slug for c in r.containers), *(t.slug for t in r.reservoirs))}
        detail["explained"] = sorted(things)
    return {
        "event": event.event, "facility": plan.facility, "room": plan.room, "subject": plan.subject,
        "from": _iso(event.begin_s), "to": _iso(over) if over <= now else None, "detail": detail,
    }  # fmt: skip


def _of_reservoir(sim: Simulation, index: int) -> dict[str, object]:
    room, plan = sim.world.room_plans[sim.world.reservoir_room[index]], sim.world.reservoir_plans[index]
    return {"facility": room.facility, "room": room.slug, "subject": plan.slug}


def _spell(sim: Simulation, row: list[float]) -> dict[str, object]:
    kind, index = int(row[0]), int(row[1])
    here = np.flatnonzero(sim.world.reservoir_of[: sim.world.probed] == index)
    return {
        "event": water_watch.SPELLS[kind],
        **_of_reservoir(sim, index),
        "from": _iso(row[2]),
        "to": _iso(row[3]),
        "detail": {
            "kind": ("reservoir-low", "reservoir-empty")[kind],
            "harmless": False,
            "required": kind == 1,
            "onset": _iso(row[2]),
            "name": sim.world.reservoir_plans[index].name,
            "explained": [sim.world.container_plans[i].slug for i in here],
        },
    }


def _lost_water(sim: Simulation, row: list[float]) -> dict[str, object]:
    """A probe that air entered because its container was that dry: a call for it is right, its absence no fault."""
    container = sim.channels.container_of[int(row[0])]
    room = sim.world.room_plans[sim.world.room_of[container]]
    return {
        "event": "lost-water",
        "facility": room.facility,
        "room": room.slug,
        "subject": sim.world.container_plans[container].slug,
        "from": _iso(row[1]),
        "to": _iso(row[2]),
        "detail": {"kind": "probe-fault", "harmless": False, "required": False, "onset": _iso(row[1])},
    }


def _refill(sim: Simulation, filled: Filled) -> dict[str, object]:
    hours = filled.litres / sim.world.reservoir_plans[filled.reservoir].habit.hose_l_per_h
    detail = {"kind": None, "harmless": True, "litres": round(filled.litres, 1)}
    begin, end = _iso(filled.at_s), _iso(filled.at_s + 3600.0 * hours)
    return {
        "event": "refill",
        **_of_reservoir(sim, filled.reservoir),
        "from": begin,
        "to": end,
        "detail": detail,
    }


def _runs(sim: Simulation, now: float) -> list[dict[str, object]]:
    """One record per facility of what was simulated at all, so that calls can be counted per room and month."""
    scenario = sim.scenario
    about = {"kind": None, "harmless": True, "scenario": scenario.name, "seed": scenario.seed}
    common = {"event": "simulated", "room": "", "from": _iso(scenario.start.timestamp()), "to": _iso(now)}
    return [
        {**common, "facility": f.slug, "subject": f.slug, "detail": {**about, "rooms": len(f.rooms)}}
        for f in scenario.facilities
    ]


def clock_changes(scenario: Scenario, until_s: float) -> list[dict[str, object]]:
    """Daylight-saving changes of each facility's zone within the run: lights move by an hour of UTC."""
    found: list[dict[str, object]] = []
    begin = int(scenario.start.timestamp()) // 3600 * 3600
    for f in scenario.facilities:
        before = utc_offset_min(f.zone, begin)
        for at in range(begin, int(until_s), 3600):
            after = utc_offset_min(f.zone, at)
            if after != before:
                detail = {"kind": None, "harmless": True, "minutes": after - before}
                found.append(
                    {"event": "dst-change", "facility": f.slug, "room": "", "subject": f.slug,
                     "from": _iso(at), "to": _iso(at + 86400.0), "detail": detail}
                )  # fmt: skip
            before = after
    return found


def _iso(at_s: float) -> str | None:
    if not np.isfinite(at_s):
        return None
    return datetime.fromtimestamp(float(at_s), UTC).isoformat(timespec="seconds").replace("+00:00", "Z")
