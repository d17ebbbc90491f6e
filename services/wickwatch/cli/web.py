"""`wickwatch web`: serves the pages and the JSON API, until it is stopped."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from wickwatch.cli.arguments import Subparsers, command, port

if TYPE_CHECKING:
    from wickwatch.settings import Settings


def add_parser(commands: Subparsers[argparse.ArgumentParser]) -> None:
    """Add this command's arguments."""
    made = command(commands, "web", "serves the pages and the JSON API, until stopped", run, service=True)
    made.add_argument("--host", default="127.0.0.1", help="address to listen on; 0.0.0.0 in a container (%(default)s)")
    made.add_argument("--port", type=port, default=8000, metavar="P", help="port to listen on (%(default)s)")


def run(args: argparse.Namespace, settings: Settings) -> int:
    """Serve until a signal comes."""
    from functools import partial

    from wickwatch import web
    from wickwatch.cli.service import serve
    from wickwatch.settings import require

    require(settings, "secret_key")
    return serve("web", partial(web.run, host=args.host, port=args.port), settings)
