"""`wickwatch reporter`: makes the weekly reports on Mondays and when somebody asks, until it is stopped."""

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
        "reporter",
        "makes the weekly reports on Mondays and when somebody asks, until stopped",
        run,
        service=True,
    )


def run(args: argparse.Namespace, settings: Settings) -> int:
    """Serve until a signal comes."""
    from wickwatch import report
    from wickwatch.cli.service import serve

    return serve("reporter", report.run, settings)
