"""A simulated facility in a database: its place, the readings of some days with their rollups, and the simulation.

For reports that are compared with the simulator's truth. Not here: what is true (`tests.integration.report.truth`).
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any

import numpy as np
import psycopg
from numpy.typing import NDArray

from wickwatch.agronomy.units import QUANTITIES
from wickwatch.fleet.document import parse
from wickwatch.store import channels, readings, rollups
from wickwatch.store.channels import Heard
from wickwatch.store.fleet import Site, apply_declared, facilities
from wickwatch_simulator.simulation import Simulation

Connection = psycopg.Connection[Any]


def declared(conn: Connection, simulation: Simulation) -> Site:
    """Declare the simulation's one facility and register its channels."""
    apply_declared(conn, parse(simulation.fleet_toml(), "the simulated fleet"), simulation.scenario.start)
    (site,) = facilities(conn)
    return site


def registered(conn: Connection, site: Site, simulation: Simulation) -> NDArray[np.int32]:
    """Number in the database of each of the simulation's channels."""
    fleet = simulation.channels
    ids = np.empty(len(fleet.names), dtype=np.int32)
    for number, (_, gateway) in enumerate(fleet.gateways):
        own = [n for n in range(len(fleet.names)) if fleet.gateway[n] == number]
        gateway_id = channels.gateway(conn, site.id, gateway.slug)
        heard = [
            Heard(
                fleet.names[n],
                fleet.names[n].rpartition(":")[0],
                fleet.quantities[n],
                QUANTITIES[fleet.quantities[n]].stored_unit,
            )
            for n in own
        ]
        known = {channel.name: channel.id for channel in channels.register(conn, site.id, gateway_id, heard)}
        ids[own] = [known[fleet.names[n]] for n in own]
    return ids


def run(
    conn: Connection,
    simulation: Simulation,
    end: datetime,
    every: timedelta = timedelta(minutes=5),
    look: Callable[[], None] = lambda: None,
) -> Site:
    """Declare the facility and store its readings up to `end`, rolled up; `look` is called after each chunk."""
    site = declared(conn, simulation)
    ids = registered(conn, site, simulation)
    for chunk in simulation.run(simulation.scenario.start, end, every, rows=50_000):
        readings.write(conn, site.id, readings.Rows(ids[chunk.channel], chunk.at, chunk.value))
        look()
    rollups.refresh(conn, site.id)
    conn.commit()
    return site
