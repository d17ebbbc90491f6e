"""`wickwatch migrate`: brings the database to this version's schema."""

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
        "migrate",
        "brings the database to this version's schema; safe to run twice, and by two copies at once",
        run,
    )


def run(args: argparse.Namespace, settings: Settings) -> int:
    """Migrate and say which version the schema has now."""
    from wickwatch import store
    from wickwatch.cli.database import database_url

    with database_url(settings) as url:
        version = store.migrate(url)
    print(f"schema version {version}")
    return 0
