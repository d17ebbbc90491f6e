"""`wickwatch backtest`: the alarms that the detectors would have raised over stored history; changes nothing."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from wickwatch.cli.arguments import Subparsers, add_period, command, slug

if TYPE_CHECKING:
    from wickwatch.settings import Settings


def add_parser(commands: Subparsers[argparse.ArgumentParser]) -> None:
    """Add this command's arguments."""
    made = command(
        commands,
        "backtest",
        "runs the detectors and alarm rules over stored history, changes nothing, and prints the alarms",
        run,
    )
    add_period(made)
    made.add_argument("--facility", type=slug, metavar="F", help="only this facility, by its slug")
    made.add_argument(
        "--set",
        action="append",
        default=[],
        metavar="NAME=VALUE",
        help="a rule for this run only; may be repeated",
    )
    made.add_argument("--json", action="store_true", help="JSON Lines, one alarm each")


def run(args: argparse.Namespace, settings: Settings) -> int:
    """Not there yet; says so."""
    from wickwatch.errors import RefusedError

    raise RefusedError("this command is not built yet")
