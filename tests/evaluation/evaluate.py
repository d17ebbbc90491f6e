"""A scenario simulated, judged as the live watch judges, and scored against its truth.

Not here: what figures must be reached.
"""

from __future__ import annotations

from datetime import timedelta

from tests.evaluation.calls import raised
from tests.evaluation.runs import run
from wickwatch.detect.clock import moment
from wickwatch_simulator.scenario import Scenario
from wickwatch_simulator.score import Score, score

#: The watch begins this long after the readings do: before that it has nothing to judge by.
BEGINS = timedelta(hours=2)


def evaluate(scenario: Scenario, interval_s: int) -> Score:
    """Score of all facilities of a scenario, with readings at this interval."""
    runs = run(scenario, interval_s)
    alarms = [alarm for one in runs for alarm in raised(one, moment(one.record.start) + BEGINS, moment(one.record.end))]
    return score(list(runs[0].truth), alarms)
