"""`wickwatch demo`: everything on one machine with nothing else installed, on a simulated fleet."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from wickwatch.cli.arguments import Subparsers, command, port, whole

if TYPE_CHECKING:
    from wickwatch.settings import Settings


def add_parser(commands: Subparsers[argparse.ArgumentParser]) -> None:
    """Add this command's arguments."""
    made = command(
        commands,
        "demo",
        "everything on one machine with nothing else installed, on a simulated fleet; Ctrl-C stops it, "
        "a second start resumes",
        run,
        service=True,
    )
    made.add_argument("--rooms", type=whole(1, 2000), default=12, metavar="N", help="rooms to simulate (%(default)s)")
    made.add_argument("--days", type=whole(1, 400), default=21, metavar="D", help="days of history (%(default)s)")
    made.add_argument("--seed", type=whole(0, 999_999_999), default=1, metavar="S", help="seed of all that is random")
    made.add_argument("--port", type=port, default=8000, metavar="P", help="port of the pages (%(default)s)")
    made.add_argument("--no-faults", action="store_true", help="a fleet in which nothing goes wrong")


def run(args: argparse.Namespace, settings: Settings) -> int:
    """Not there yet; says so."""
    from wickwatch.errors import RefusedError

    raise RefusedError("this command is not built yet")
