"""How much faster than real time the simulator runs: 1,000 rooms with their faults, a reading each minute.

Two days are simulated, so that nights, days and refills are in it; placing the fleet is not counted, once is enough.
Not here: publishing what it makes.
"""

from __future__ import annotations

import time
from datetime import timedelta

from tests.benchmarks import Figure
from wickwatch_simulator.load import load_scenario
from wickwatch_simulator.simulation import Simulation

ROOMS = 1000
DAYS = 2.0
INTERVAL_S = 60


def run(scale: float = 1.0) -> list[Figure]:
    """Simulated seconds for each second, and readings made in one."""
    rooms = max(int(ROOMS * scale), 10)
    scenario = load_scenario("evaluation", rooms, DAYS, 1)
    simulation = Simulation(scenario)
    began = time.perf_counter()
    made = sum(
        len(chunk.value)
        for chunk in simulation.run(scenario.start, scenario.start + timedelta(days=DAYS), INTERVAL_S, 2_000_000)
    )
    took = time.perf_counter() - began
    on = f"{rooms:,} rooms, {len(simulation.channels.names):,} channels, a reading every {INTERVAL_S} s, one process"
    return [
        Figure("simulator against real time", timedelta(days=DAYS).total_seconds() / took, "ratio", on),
        Figure("simulator", made / took, "readings/s", on),
    ]
