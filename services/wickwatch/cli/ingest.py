"""`wickwatch ingest`: takes readings from the broker into the database, until it is stopped."""

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
        "ingest",
        "takes readings from the broker into the database, until stopped",
        run,
        service=True,
    )


def run(args: argparse.Namespace, settings: Settings) -> int:
    """Serve until a signal comes."""
    from wickwatch import ingest
    from wickwatch.cli.service import serve
    from wickwatch.settings import require

    require(settings, "mqtt_url")
    return serve("ingest", ingest.run, settings)
