"""`wickwatch run`: all services in one process tree against the configured database and broker."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from wickwatch.cli.arguments import Subparsers, command, port

if TYPE_CHECKING:
    from wickwatch.settings import Settings


def add_parser(commands: Subparsers[argparse.ArgumentParser]) -> None:
    """Add this command's arguments."""
    made = command(
        commands,
        "run",
        "all services in one process tree, until stopped",
        run,
        service=True,
    )
    made.add_argument("--host", default="127.0.0.1", help="address of the pages (%(default)s)")
    made.add_argument(
        "--port",
        type=port,
        default=8000,
        metavar="P",
        help="port of the pages (%(default)s)",
    )


def run(args: argparse.Namespace, settings: Settings) -> int:
    """Start every service; return when stopped, raise when one ends by itself."""
    from wickwatch import log
    from wickwatch.cli import home
    from wickwatch.cli.everything import everything
    from wickwatch.cli.processes import Tree, stopping
    from wickwatch.embedded.ports import must_be_free
    from wickwatch.settings import require

    require(settings, "secret_key")
    must_be_free(args.port, "--port")
    with (
        stopping() as stop,
        home.held(settings.home) as folder,
        everything(Tree(), settings, folder) as running,
    ):
        running.services("ingest", "watch", "notify")
        running.web(args.host, args.port, stop)
        running.services("reporter")  # last: what it makes at once, of weeks past, holds nobody up
        if not stop.is_set():
            log.event("run.ready", address=f"http://{args.host}:{args.port}")
        running.tree.wait(stop)
    return 0
