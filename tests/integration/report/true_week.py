"""A simulated week in a database, with what was really true in it: tension, and water that left the reservoirs.

The simulation is looked at while it runs; its readings go to the database as any others do.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import psycopg
import pytest
from numpy.typing import NDArray

from tests.builders import simulated
from tests.unit.simulator.houses import event, house
from wickwatch.report import Facts, facts, parse
from wickwatch.store.fleet import load_facility
from wickwatch_simulator import truth
from wickwatch_simulator.simulation import Simulation

ROOMS = 2

#: Drifts [mbar a day] by room (from 1) and container; they begin before the week that is reported or early in it.
DRIFTS = {(1, 2): (2.0, 9.0), (1, 5): (4.5, 3.0), (2, 3): (3.0, 5.0), (2, 1): (6.0, 4.0)}

WEEK = "2026-W11"


@dataclass
class Truth:
    """What was true at the sampled moments of the week: seconds (k,), tension (k, N), and litres drawn (R,)."""

    at_s: list[NDArray[np.int64]] = field(default_factory=list)
    tension_mbar: list[NDArray[np.float64]] = field(default_factory=list)
    drawn_l: NDArray[np.float64] = field(default_factory=lambda: np.empty(0))


@dataclass(frozen=True)
class TrueWeek:
    """A week as reported and as it was; `url` is its database."""

    url: str
    facility_id: Any
    simulation: Simulation
    truth: Truth
    facts: Facts


def tell(what: str, share: float) -> None:
    """Progress that nobody follows."""


def report(conn: psycopg.Connection[Any], facility_id: Any, week: str, now: datetime) -> Facts:
    """Facts of a week."""
    zone = load_facility(conn, facility_id, now).zone
    return facts(conn, facility_id, parse(week, zone), now, tell)


@contextmanager
def true_week(url: str, folder: Path) -> Iterator[TrueWeek]:
    """Simulate some days in two rooms with drifts and refills; the last seven are the week."""
    drifts = "".join(
        event("drifting", room=room, container=pot, day=day, mbar_per_day=slope)
        for (room, pot), (day, slope) in DRIFTS.items()
    )
    scenario = house(
        folder,
        drifts,
        rooms=ROOMS,
        days=11,
        start="2026-03-05T00:00:00Z",
        template='medium = "peat-perlite"\ncontainers = [8, 10]\nstands_for = [1, 3]\nline = "loop"\n',
    )
    simulation = Simulation(scenario)
    seen = Truth()
    with pytest.MonkeyPatch.context() as patch, psycopg.connect(url) as conn:
        observe, week = truth.observe, parse(WEEK, ZoneInfo("Europe/Oslo"))
        start, end = int(week.start.timestamp()), int(week.end.timestamp())

        def spy(sim: Simulation, got: Any, active: Any, effects: Any, end_s: int) -> None:
            observe(sim, got, active, effects, end_s)
            if end_s == start:
                seen.drawn_l = -sim.state.drawn_l
            if end_s == end:
                seen.drawn_l = seen.drawn_l + sim.state.drawn_l
            inside = (got.at_s >= start) & (got.at_s < end)
            seen.at_s.append(got.at_s[inside])
            seen.tension_mbar.append(got.tension_mbar[inside])

        patch.setattr(truth, "observe", spy)
        after = datetime.fromtimestamp(end + 3600, UTC)
        site = simulated.run(conn, simulation, after)
        found = report(conn, site.id, WEEK, after)
        yield TrueWeek(url, site.id, simulation, seen, found)
