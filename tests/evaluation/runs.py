"""A simulated history held in memory: what each facility's watch would have read, and the truth beside it.

Simulates a scenario once and keeps one record of readings per facility; a folder may keep whole histories, so that
trying other rules need not simulate again. Not here: judging it (`replay`).
"""

from __future__ import annotations

import pickle
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import timedelta
from hashlib import sha256
from pathlib import Path

import numpy as np

import wickwatch_simulator
from tests.evaluation import frames
from tests.evaluation.fleet import facilities
from tests.evaluation.frames import Record
from wickwatch import agronomy
from wickwatch.fleet import Facility
from wickwatch_simulator.load import find
from wickwatch_simulator.scenario import Scenario
from wickwatch_simulator.simulation import Simulation


@dataclass(frozen=True)
class Run:
    """One facility's history; `truth` are all records of the scenario by section 6 of the contract."""

    place: Facility
    record: Record
    truth: Sequence[Mapping[str, object]]


def run(scenario: Scenario, interval_s: int, rows: int = 2_000_000) -> list[Run]:
    """Simulate a whole scenario at one interval of readings."""
    return _runs(Simulation(scenario), *_simulated(Simulation(scenario), interval_s, rows), interval_s)


def kept(scenario: Scenario, interval_s: int, folder: Path | None) -> list[Run]:
    """The same as `run`, taken from the folder if it was kept there by the same simulator; kept there if not."""
    if folder is None:
        return run(scenario, interval_s)
    asked = f"{scenario.seed} {len(scenario.rooms)} {scenario.start} {scenario.days} {interval_s}"
    path = folder / (sha256((_version(scenario) + asked).encode()).hexdigest()[:24] + ".pickle")
    if not path.exists():
        folder.mkdir(parents=True, exist_ok=True)
        part = path.with_suffix(".part")
        part.write_bytes(pickle.dumps(_simulated(Simulation(scenario), interval_s), protocol=5))
        part.rename(path)
    records, truth = pickle.loads(path.read_bytes())
    return _runs(Simulation(scenario), records, truth, interval_s)


def _simulated(
    simulation: Simulation, interval_s: int, rows: int = 2_000_000
) -> tuple[list[Record], Sequence[Mapping[str, object]]]:
    """One record of readings per facility, and the truth."""
    scenario, names = simulation.scenario, simulation.channels
    start = np.datetime64(scenario.start.replace(tzinfo=None), "us")
    end = np.datetime64(scenario.end.replace(tzinfo=None), "us")
    here = [np.flatnonzero(names.facility == number) for number in range(len(names.facilities))]
    records = [Record(rows_.astype(np.int64), start - np.timedelta64(1, "h"), end) for rows_ in here]
    place_of = np.full(len(names.names), -1)
    for rows_ in here:
        place_of[rows_] = np.arange(len(rows_))
    for chunk in simulation.run(scenario.start, scenario.start + timedelta(days=scenario.days), interval_s, rows):
        for number, record in enumerate(records):
            mine = names.facility[chunk.channel] == number
            record.add(place_of[chunk.channel[mine]], chunk.at[mine], chunk.value[mine])
    for record in records:
        record.forget()
    return records, simulation.truth()


def _runs(
    simulation: Simulation, records: Sequence[Record], truth: Sequence[Mapping[str, object]], interval_s: int
) -> list[Run]:
    """Records and truth with the places that they are of, as their fleet file tells."""
    names = simulation.channels
    gateway_of = {name: names.gateways[number][1].slug for name, number in zip(names.names, names.gateway, strict=True)}
    places = facilities(simulation.fleet_toml(), names.names, gateway_of, interval_s)
    return [Run(place, record, truth) for place, record in zip(places, records, strict=True)]


def _version(scenario: Scenario) -> str:
    """A digest of all that a history is made by: the simulator, its formulas, how readings are kept."""
    files = [path for each in (agronomy, wickwatch_simulator) for path in Path(each.__file__).parent.glob("*.py")]
    files = [path for path in files if not path.name.startswith("score")]
    files += [Path(frames.__file__), Path(__file__), find(scenario.name)]
    return sha256(b"".join(path.read_bytes() for path in sorted(files))).hexdigest()
