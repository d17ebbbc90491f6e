"""The demo's simulated fleet: its place and its history into the database, then its live readings over the broker.

`python -m wickwatch.cli.demo_fleet FOLDER MQTT_URL` is the process of the live part. Not here: the physics, which are
the simulator's.
"""

from __future__ import annotations

import signal
import sys
import threading
from datetime import UTC, datetime, timedelta
from itertools import groupby
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from wickwatch import log
from wickwatch.agronomy.units import QUANTITIES
from wickwatch.cli.demo_state import DemoState, read
from wickwatch.fleet.document import parse
from wickwatch.store import channels, readings
from wickwatch.store.channels import Heard
from wickwatch.store.connect import Connection
from wickwatch.store.fleet import apply_declared, facilities
from wickwatch_simulator import broker
from wickwatch_simulator.load import load_scenario
from wickwatch_simulator.publish import Pace, connections, publish
from wickwatch_simulator.simulation import Simulation

if TYPE_CHECKING:
    from wickwatch.cli.progress import Advance

#: Between readings: in older history, over its last days, and live.
_OLD, _RECENT, _LIVE = timedelta(minutes=5), timedelta(minutes=1), timedelta(seconds=10)
_RECENT_DAYS = timedelta(days=2)

_STATE = "simulation.npz"


def load_history(conn: Connection, home: Path, state: DemoState, advance: Advance) -> int:
    """Make the demo's facilities and store their history; returns the number of readings.

    May be repeated after an interruption: the place is as declared already, and readings that are there stay.
    """
    simulation = _simulation(state)
    start, end = simulation.scenario.start, state.end
    with conn.transaction():
        apply_declared(conn, parse(simulation.fleet_toml(), "the demo's fleet"), start)
    ids = _register(conn, simulation)
    facility_ids = {site.slug: site.id for site in facilities(conn)}
    count = 0
    recent = max(start, end - _RECENT_DAYS)
    recent -= timedelta(minutes=recent.minute % 5)  # where readings of both intervals fall
    for begin, until, interval in ((start, recent, _OLD), (recent, end, _RECENT)):
        for chunk in simulation.run(begin, until, interval):
            with conn.transaction():
                of = chunk.channels.facility[chunk.channel]
                for number, slug in enumerate(chunk.channels.facilities):
                    own = of == number
                    rows = readings.Rows(ids[chunk.channel[own]], chunk.at[own], chunk.value[own])
                    readings.write(conn, facility_ids[slug], rows)
            count += len(chunk)
            advance(len(chunk))
    simulation.save(home / _STATE)
    return count


def publish_live(home: Path, mqtt_url: str, stop: threading.Event) -> None:
    """Publish what happened since the simulation was last saved, then what happens, until `stop`."""
    simulation = _simulation(read(home))
    simulation.restore(home / _STATE)
    links = connections(simulation, broker.address(mqtt_url), None)
    saved = datetime.now(UTC)

    def save(at: datetime, messages: int) -> None:
        nonlocal saved
        if datetime.now(UTC) - saved > timedelta(minutes=1):
            _save(simulation, home)
            saved = datetime.now(UTC)

    at_once = Pace(float("inf"))
    away_until = datetime.now(UTC).replace(second=0, microsecond=0) - _RECENT
    if simulation.now < away_until:
        publish(simulation, links, away_until, _RECENT, at_once, stop=stop)
    publish(simulation, links, None, _LIVE, at_once, stop=stop, progress=save)
    _save(simulation, home)


def _simulation(state: DemoState) -> Simulation:
    start = state.end - timedelta(days=state.days)
    return Simulation(load_scenario("demo", state.rooms, state.days, state.seed, start, state.faults))


def _save(simulation: Simulation, home: Path) -> None:
    unfinished = home / f"unfinished-{_STATE}"
    simulation.save(unfinished)
    unfinished.replace(home / _STATE)


def _register(conn: Connection, simulation: Simulation) -> np.ndarray[tuple[int], np.dtype[np.int32]]:
    """Number of each of the simulation's channels in the database; those that nothing is attached to, too."""
    fleet = simulation.channels
    facility_ids = {site.slug: site.id for site in facilities(conn)}
    ids = np.empty(len(fleet.names), dtype=np.int32)
    by_gateway = sorted(range(len(fleet.names)), key=lambda number: int(fleet.gateway[number]))
    with conn.transaction():
        for gateway, group in groupby(by_gateway, key=lambda number: int(fleet.gateway[number])):
            numbers = list(group)
            facility_id = facility_ids[fleet.gateways[gateway][0]]
            gateway_id = channels.gateway(conn, facility_id, fleet.gateways[gateway][1].slug)
            heard = [_heard(fleet.names[n], fleet.quantities[n]) for n in numbers]
            known = {channel.name: channel.id for channel in channels.register(conn, facility_id, gateway_id, heard)}
            ids[numbers] = [known[fleet.names[n]] for n in numbers]
    return ids


def _heard(name: str, quantity: str) -> Heard:
    return Heard(name, name.rpartition(":")[0], quantity, QUANTITIES[quantity].stored_unit)


def main() -> None:
    """The live part as a process: until SIGTERM."""
    log.to_stream(sys.stderr)
    stop = threading.Event()
    for number in (signal.SIGTERM, signal.SIGINT):
        signal.signal(number, lambda *_: stop.set())
    publish_live(Path(sys.argv[1]), sys.argv[2], stop)


if __name__ == "__main__":
    main()
