"""Scenarios simulated, judged as the live watch judges, and scored against their truth.

Not here: what figures must be reached (`measures`).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor, as_completed
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import partial
from multiprocessing import get_context
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from tests.evaluation.calls import of_judgements
from tests.evaluation.foresight import Foresight, Watcher
from tests.evaluation.replay import judgements
from tests.evaluation.runs import Run, kept, run
from tests.evaluation.slices import Slice
from wickwatch.detect.clock import moment
from wickwatch.fleet import KINDS
from wickwatch_simulator.scenario import Scenario
from wickwatch_simulator.score import Score, score

#: The watch begins this long after the readings do: before that it has nothing to judge by.
BEGINS = timedelta(hours=2)


@dataclass(frozen=True)
class Judged:
    """What came of one slice: the truth, the alarms, forecasts on the way, and each room's zone and lights [min]."""

    truth: Sequence[Mapping[str, Any]]
    alarms: Sequence[Mapping[str, Any]]
    foresight: Sequence[Foresight]
    lights: Mapping[tuple[str, str], tuple[ZoneInfo, int, int]]

    def score(self) -> Score:
        """Alarms compared with the truth."""
        return score([dict(each) for each in self.truth], [dict(each) for each in self.alarms])


def evaluate(scenario: Scenario, interval_s: int) -> Score:
    """Score of all facilities of a scenario, with readings at this interval."""
    return judge(run(scenario, interval_s)).score()


def judge(runs: Sequence[Run]) -> Judged:
    """All facilities of one scenario judged."""
    alarms: list[Mapping[str, Any]] = []
    foresight: list[Foresight] = []
    for each in runs:
        begin, end = moment(each.record.start) + BEGINS, moment(each.record.end)
        watcher = Watcher(each)
        alarms += of_judgements(each, watcher.watching(judgements(each, frozenset(KINDS), begin, end)))
        foresight += watcher.seen
    lights = {
        (each.place.slug, room.slug): (each.place.zone, _minutes(room.lights_on), _minutes(room.lights_off))
        for each in runs
        for room in each.place.rooms
    }
    return Judged(runs[0].truth, alarms, foresight, lights)


def _minutes(at: Any) -> int:
    return int(at.hour) * 60 + int(at.minute)


def judge_slice(one: Slice, keep: Path | None = None) -> Judged:
    """One slice simulated, or taken from the folder that keeps it, and judged."""
    return judge(kept(one.scenario(), one.interval_s, keep))


def judge_slices(
    slices: Sequence[Slice],
    processes: int,
    keep: Path | None = None,
    done: Callable[[Slice, datetime], None] = lambda one, at: None,
) -> list[Judged]:
    """All slices in their order, several at once; `done` is told each as it comes."""
    with ProcessPoolExecutor(processes, mp_context=get_context("spawn")) as pool:
        asked = {pool.submit(partial(judge_slice, keep=keep), one): one for one in slices}
        for future in as_completed(asked):
            future.result()
            done(asked[future], datetime.now().astimezone())
        return [future.result() for future in asked]
