"""How well the detectors judge: `python -m tests.evaluation [--part tuning|reporting] [--out FILE]`.

Or one scenario of one's own: `--rooms N --days D --seed S --interval SECONDS`.
"""

from __future__ import annotations

import argparse
import os
import platform
import sys
import time
from datetime import UTC, datetime
from pathlib import Path

from tests.evaluation.evaluate import evaluate, judge_slices
from tests.evaluation.measures import Measures
from tests.evaluation.slices import PARTS, SLICES, Part, Slice
from tests.evaluation.table import markdown, write
from wickwatch_simulator.load import load_scenario
from wickwatch_simulator.score_report import as_text


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.evaluation", description=__doc__)
    parser.add_argument("--part", choices=PARTS, default="tuning", help="which seeds (%(default)s)")
    parser.add_argument("--processes", type=int, default=os.cpu_count() or 1)
    parser.add_argument("--keep", type=Path, help="a folder for simulated histories, to try other rules on the same")
    parser.add_argument("--out", type=Path, help="a file for the table; notes below it stay")
    parser.add_argument("--rooms", type=int, help="so many rooms of one seed instead of a part")
    parser.add_argument("--scenario", default="evaluation", help="a TOML file or a name (%(default)s)")
    parser.add_argument("--days", type=float, default=28)
    parser.add_argument("--seed", type=int, default=2)
    parser.add_argument("--interval", type=int, default=60, help="seconds between readings (%(default)s)")
    given = parser.parse_args()
    begun = time.monotonic()
    if given.rooms is not None:
        result = evaluate(load_scenario(given.scenario, given.rooms, given.days, given.seed), given.interval)
        print(as_text(result))
        print(f"\nrooms {given.rooms}, days {given.days:g}, seed {given.seed}, a reading every {given.interval} s;"
              f" {time.monotonic() - begun:.0f} s")  # fmt: skip
        return
    part: Part = given.part

    def done(one: Slice, at: datetime) -> None:
        print(f"{at:%H:%M:%S} seed {one.seed}, {one.rooms} rooms", file=sys.stderr, flush=True)

    measured = Measures(judge_slices(SLICES[part], given.processes, given.keep, done))
    machine = f"{os.cpu_count()} cores ({platform.machine()}), Python {platform.python_version()}"
    text = markdown(measured, part, SLICES[part], f"{datetime.now(UTC):%Y-%m-%d}", machine, time.monotonic() - begun)
    print(text)
    if given.out is not None:
        write(given.out, text)


if __name__ == "__main__":
    main()
