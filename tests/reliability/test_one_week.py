"""One whole simulated week under the live watch, sweep by sweep, and the same week in a backtest: alarm for alarm.

The live side is the real one: readings come in as time goes on, and every sweep rolls up, judges, steps and queues in
one transaction. In both, an alarm whose condition has gone is answered at once. A shorter time is in
`tests/integration/watch/test_sweep.py`.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from uuid import UUID

import numpy as np
import pytest
from numpy.typing import NDArray

from wickwatch.agronomy.units import QUANTITIES
from wickwatch.alarms import Act
from wickwatch.detect.clock import stamp
from wickwatch.fleet.document import parse
from wickwatch.store import alarms, channels, readings
from wickwatch.store.channels import Heard
from wickwatch.store.connect import Connection, connect
from wickwatch.store.fleet import apply_declared, facilities
from wickwatch.store.readings import Rows
from wickwatch.watch import Sweeper
from wickwatch.watch.backtest import backtest
from wickwatch_simulator import Simulation, load_scenario

Ids = NDArray[np.int32]

START = datetime(2026, 3, 2, tzinfo=UTC)
BEGIN = START + timedelta(days=4)
END = BEGIN + timedelta(days=7)

#: Sweeps come further apart than live, so that the week takes minutes; what they do is the same.
EVERY = timedelta(minutes=10)

SCENARIO = """
name = "one week"
seed = 5
start = 2026-03-02T00:00:00Z
days = 11
rooms = 3

[[facility]]
slug = "alderholm"
name = "Alderholm"
zone = "Europe/Oslo"
rooms_per_gateway = 3
gateway = {}

[[template]]
name = "Room"
age_days = [40, 60]
"""

#: A fault of each sort that fits into a week, and a harmless thing: name, room, day, hours, what else it needs.
EVENTS = [
    ("stuck-open", 1, 5.3, 8, "container = 1"),
    ("silent-probe", 1, 7.1, 9, "container = 2"),
    ("empty-reservoir", 2, 6.0, 60, "hours_left = 30\nhours_empty = 10"),
    ("closed-valve", 3, 8.4, 20, ""),
    ("hand-watering", 3, 6.4, 0.1, "container = 1"),
]

RAISED = """
SELECT id::text, kind, subject_name, raised_at, cleared_at, priority, message, outcome FROM alarm
ORDER BY raised_at, kind, id::text COLLATE "C"
"""


@pytest.fixture
def simulation(tmp_path: Path) -> Simulation:
    events = "".join(
        f'\n[[event]]\nevent = "{name}"\nroom = {room}\nday = {day}\nhours = {hours}\n{more}\n'
        for name, room, day, hours, more in EVENTS
    )
    (tmp_path / "week.toml").write_text(SCENARIO + events)
    return Simulation(load_scenario(tmp_path / "week.toml"))


@pytest.fixture
def conn(plain_url: str) -> Iterator[Connection]:
    with connect(plain_url, "test", autocommit=True) as opened:
        yield opened


def placed(conn: Connection, simulation: Simulation) -> tuple[UUID, Ids]:
    """The facility, and the ids of its channels in the simulation's order."""
    fleet = simulation.channels
    with conn.transaction():
        apply_declared(conn, parse(simulation.fleet_toml(), "a week"), START - timedelta(days=1))
        (site,) = facilities(conn)
        gateway = channels.gateway(conn, site.id, fleet.gateways[0][1].slug)
        heard = [
            Heard(name, name.rpartition(":")[0], quantity, QUANTITIES[quantity].stored_unit)
            for name, quantity in zip(fleet.names, fleet.quantities, strict=True)
        ]
        known = {each.name: each.id for each in channels.register(conn, site.id, gateway, heard)}
    return site.id, np.array([known[name] for name in fleet.names], dtype=np.int32)


def read(simulation: Simulation, ids: Ids) -> Rows:
    """Every reading of the simulation in the order of its time, which is that of its arrival: no gateway holds any."""
    chunks = list(simulation.run(START, END + timedelta(minutes=5), timedelta(minutes=5)))
    at = np.concatenate([chunk.at for chunk in chunks])
    order = np.argsort(at, kind="stable")
    channel, value = (np.concatenate(each)[order] for each in zip(*((c.channel, c.value) for c in chunks), strict=True))
    return Rows(ids[channel], at[order], value)


def stored(conn: Connection, place: UUID, rows: Rows, since: datetime, until: datetime) -> None:
    """Readings after a moment and up to another."""
    first, last = (int(np.searchsorted(rows.at, stamp(each), side="right")) for each in (since, until))
    with conn.transaction():
        readings.write(conn, place, Rows(rows.channel_ids[first:last], rows.at[first:last], rows.values[first:last]))


def answer(conn: Connection, place: UUID, at: datetime) -> None:
    """Somebody answers what has gone by itself."""
    for alarm in alarms.standing(conn, place):
        if alarm.state == "returned-unacknowledged":
            with conn.transaction():
                alarms.apply_event(conn, alarm.id, Act("acknowledge"), None, at, [place])


@pytest.mark.timeout(3600)
def test_a_week_under_the_live_watch_and_in_a_backtest_is_the_same_alarm_for_alarm(
    conn: Connection, plain_url: str, simulation: Simulation
) -> None:
    place, ids = placed(conn, simulation)
    rows = read(simulation, ids)
    stored(conn, place, rows, START - timedelta(days=1), BEGIN)
    conn.execute(
        "INSERT INTO job_run (job, facility_id, as_of, started_at, ended_at, ok)"
        " VALUES ('sweep', %s, %s, now(), now(), true)",
        (place, BEGIN),
    )
    sweeper = Sweeper(plain_url, place, "http://wickwatch.example")
    try:
        at = BEGIN
        while at < END:
            stored(conn, place, rows, at, at + EVERY)
            at += EVERY
            assert sweeper.sweep(at) is not None
            answer(conn, place, at)
    finally:
        sweeper.close()
    live = conn.execute(RAISED).fetchall()
    again = backtest(conn, place, BEGIN, END, {}, every=EVERY)
    names = ("id", "kind", "raised_at", "cleared_at", "priority", "message", "outcome")
    replayed = [tuple(alarm[name] for name in names) for alarm in again]
    told = [
        (id, kind, _text(raised), _text(cleared), priority, message, outcome)
        for id, kind, _, raised, cleared, priority, message, outcome in live
    ]
    assert {kind for _, kind, *_ in told} >= {"sudden-wetting", "probe-silent", "reservoir-empty", "reservoir-low"}
    assert replayed == told


def _text(at: datetime | None) -> str | None:
    return None if at is None else at.astimezone(UTC).isoformat().replace("+00:00", "Z")
