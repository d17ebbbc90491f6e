"""`wickwatch watch`: looks at the readings on a schedule and steps the alarms, until it is stopped."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from wickwatch.cli.arguments import Subparsers, command

if TYPE_CHECKING:
    from wickwatch.settings import Settings


def add_parser(commands: Subparsers[argparse.ArgumentParser]) -> None:
    """Add this command's arguments."""
    command(
        commands,
        "watch",
        "looks at the readings on a schedule and steps the alarms, until stopped",
        run,
        service=True,
    )


def run(args: argparse.Namespace, settings: Settings) -> int:
    """Serve until a signal comes."""
    from wickwatch import watch
    from wickwatch.cli.service import serve

    return serve("watch", watch.run, settings)
