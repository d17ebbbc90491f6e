"""`wickwatch report`: the weekly trend report as HTML, PDF, CSV and Parquet."""

from __future__ import annotations

import argparse
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from wickwatch.cli.arguments import Subparsers, command, slug

if TYPE_CHECKING:
    from wickwatch.settings import Settings


def add_parser(commands: Subparsers[argparse.ArgumentParser]) -> None:
    """Add this command's arguments."""
    made = command(commands, "report", "writes the weekly trend report: HTML, PDF, and tables as CSV and Parquet", run)
    made.add_argument("--facility", type=slug, metavar="F", help="of this facility, where there are several")
    made.add_argument("--week", metavar="W", help="as ISO 8601 writes it, such as 2026-W47; the last whole one without")
    made.add_argument("--out", type=Path, required=True, metavar="DIR", help="folder the files are written to")
    made.add_argument("--paper", choices=("a4", "letter"), default="a4", help="size of the PDF's pages (%(default)s)")


def run(args: argparse.Namespace, settings: Settings) -> int:
    """Write the files and say which."""
    from wickwatch.cli.database import open_database
    from wickwatch.cli.progress import progress
    from wickwatch.report import data, facts, last_complete, papers, parse
    from wickwatch.store import fleet, rollups

    with open_database(settings) as conn, progress("report", 100) as advance:
        now = datetime.now(UTC)
        site = fleet.facility_by_slug(conn, args.facility)
        zone = ZoneInfo(site.zone)
        rollups.refresh_unless_watched(conn, site.id)
        conn.commit()  # a watch that begins meanwhile must not wait for the report
        week = last_complete(now, zone) if args.week is None else parse(args.week, zone)
        done = 0

        def tell(share: float) -> None:
            nonlocal done
            advance(int(100 * share) - done)
            done = int(100 * share)

        found = facts(conn, site.id, week, now, lambda _, share: tell(0.5 * share))
        conn.commit()
        args.out.mkdir(parents=True, exist_ok=True)
        written = []
        for make in (papers(found, (args.paper,), lambda _, share: tell(0.5 + 0.4 * share)), data(found)):
            for file in make:
                (args.out / file.name).write_bytes(file.body)
                written.append(file.name)
        tell(1.0)
    print(f"{week.name} of {site.slug}, {week.span}, in {args.out}:")
    for name in written:
        print(f"  {name}")
    return 0
