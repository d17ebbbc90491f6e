"""`wickwatch notify`: carries queued notices to people, until it is stopped."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from wickwatch.cli.arguments import Subparsers, command

if TYPE_CHECKING:
    from wickwatch.settings import Settings


def add_parser(commands: Subparsers[argparse.ArgumentParser]) -> None:
    """Add this command's arguments."""
    command(commands, "notify", "carries queued notices to people, until stopped", run, service=True)


def run(args: argparse.Namespace, settings: Settings) -> int:
    """Serve until a signal comes."""
    from wickwatch import notify
    from wickwatch.cli.service import serve
    from wickwatch.settings import require

    require(settings, "secret_key")
    return serve("notify", notify.run, settings)
