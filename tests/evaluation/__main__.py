"""How well the detectors judge: `python -m tests.evaluation [--rooms N] [--days D] [--seed S] [--interval SECONDS]`."""

from __future__ import annotations

import argparse
import time

from tests.evaluation.evaluate import evaluate
from wickwatch_simulator.load import load_scenario
from wickwatch_simulator.score_report import as_text


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.evaluation", description=__doc__)
    parser.add_argument("--scenario", default="evaluation", help="a TOML file or a name (%(default)s)")
    parser.add_argument("--rooms", type=int, default=20)
    parser.add_argument("--days", type=float, default=28)
    parser.add_argument("--seed", type=int, default=2)
    parser.add_argument("--interval", type=int, default=60, help="seconds between readings (%(default)s)")
    given = parser.parse_args()
    begun = time.monotonic()
    result = evaluate(load_scenario(given.scenario, given.rooms, given.days, given.seed), given.interval)
    print(as_text(result))
    print(f"\nrooms {given.rooms}, days {given.days:g}, seed {given.seed}, a reading every {given.interval} s;"
          f" {time.monotonic() - begun:.0f} s")  # fmt: skip


if __name__ == "__main__":
    main()
