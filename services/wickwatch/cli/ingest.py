"""`wickwatch ingest`: takes readings from the broker into the database, until it is stopped."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from wickwatch.cli.arguments import Subparsers, command, port

if TYPE_CHECKING:
    from wickwatch.settings import Settings


def add_parser(commands: Subparsers[argparse.ArgumentParser]) -> None:
    """Add this command's arguments."""
    made = command(
        commands, "ingest", "takes readings from the broker into the database, until stopped", run, service=True
    )
    made.add_argument(
        "--share", action="store_true", help="copies divide the packs among them, by a shared subscription"
    )
    made.add_argument("--metrics-port", type=port, metavar="P", help="port on loopback for OpenMetrics text (none)")


def run(args: argparse.Namespace, settings: Settings) -> int:
    """Serve until a signal comes."""
    from functools import partial

    from wickwatch import ingest
    from wickwatch.cli.service import serve
    from wickwatch.settings import require

    require(settings, "mqtt_url")
    return serve("ingest", partial(ingest.run, metrics_port=args.metrics_port, share=args.share), settings)
