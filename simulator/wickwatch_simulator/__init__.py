"""A physically simulated fleet that speaks the public contract; never imports the detectors it is used to test."""

from wickwatch_simulator.chunk import Chunk
from wickwatch_simulator.load import load_scenario
from wickwatch_simulator.scenario import Scenario
from wickwatch_simulator.senml import senml_packs
from wickwatch_simulator.simulation import Simulation

__all__ = ["Chunk", "Scenario", "Simulation", "load_scenario", "senml_packs"]
