"""`wickwatch import`: readings from CSV or Parquet files, taken by the same rules as those that come over the broker.

Not here: how files are read (`readings_file`), nor what is refused (`readings_judge`). Each piece of a file is a
transaction of its own; a file that is given again after an interruption finds its readings there.
"""

from __future__ import annotations

import argparse
import csv
import sys
from collections import Counter
from contextlib import ExitStack
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from wickwatch.cli.arguments import Subparsers, command, slug

if TYPE_CHECKING:
    from wickwatch.cli.readings_judge import Reject
    from wickwatch.settings import Settings
    from wickwatch.store.first_readings import Outside

#: So many rejects are listed; a file of them takes all.
LISTED = 100


def add_parser(commands: Subparsers[argparse.ArgumentParser]) -> None:
    """Add this command's arguments."""
    made = command(commands, "import", "takes readings from CSV or Parquet (columns channel, at, value, unit)", run)
    made.add_argument("files", nargs="+", type=Path, metavar="FILE", help="Parquet where its name ends so, else CSV")
    made.add_argument("--facility", type=slug, metavar="F", help="whose readings they are, where there are several")
    made.add_argument("--rejects", type=Path, metavar="FILE", help="write every row that was refused to this CSV file")


@dataclass
class _Told:
    """Counts of what became of rows, and where rejects are told."""

    rejects: Any
    stored: int = 0
    duplicates: int = 0
    conflicts: int = 0
    begun: set[int] = field(default_factory=set)
    outside: Outside | None = None
    refused: Counter[str] = field(default_factory=Counter)

    def refuse(self, path: Path, reject: Reject) -> None:
        if self.refused.total() < LISTED:
            print(f"{path}:{reject.number}: {reject.reason}: {reject.detail}", file=sys.stderr)
        if self.rejects is not None:
            self.rejects.writerow([path, reject.number, reject.reason, reject.detail])
        self.refused[reject.reason] += 1


def run(args: argparse.Namespace, settings: Settings) -> int:
    """Take each file; 1 where there were rows and not one of them could be taken."""
    from wickwatch.cli.readings_file import ReadingsFile

    files = [ReadingsFile(path) for path in args.files]  # all are looked at before the first is taken
    with ExitStack() as stack:
        rejects = None
        if args.rejects is not None:
            rejects = csv.writer(stack.enter_context(args.rejects.open("w", encoding="utf-8", newline="")))
            rejects.writerow(["file", "line", "reason", "detail"])
        told = _Told(rejects)
        _take(files, args.facility, settings, told)
    refused = told.refused.total()
    if refused > LISTED and args.rejects is None:
        print(f"and {refused - LISTED} more; --rejects FILE takes them all", file=sys.stderr)
    parts = [f"{told.stored} stored", f"{told.duplicates} there already", f"{told.conflicts} there with another value"]
    reasons = ", ".join(f"{reason} {count}" for reason, count in told.refused.most_common())
    print(", ".join([*parts, f"{refused} refused" + (f" ({reasons})" if reasons else "")]))
    for line in _belonging(told):
        print(line)
    return 1 if refused and not told.stored + told.duplicates + told.conflicts else 0


def _belonging(told: _Told) -> list[str]:
    """What is to be said of what the readings belong to: that some do since now, and that some don't."""
    lines = []
    if told.begun:
        lines.append(f"{len(told.begun)} channels are attached from their first reading on, which is one of these now")
    if told.outside is not None and told.outside.unattached:
        lines.append(f"{told.outside.unattached} channels are attached to nothing: nobody judges their readings")
    if told.outside is not None and told.outside.since is not None:
        lines.append(
            f"{told.outside.later} channels have readings from before they were attached, the last of them at"
            f" {told.outside.since.isoformat()}: these belong to nothing, and nobody judges them"
        )
    return lines


def _take(files: list[Any], facility: str | None, settings: Settings, told: _Told) -> None:
    from wickwatch.cli.database import open_database
    from wickwatch.cli.progress import progress
    from wickwatch.cli.readings_judge import Judge, Reject
    from wickwatch.fleet import Rules
    from wickwatch.ingest.accept import window
    from wickwatch.store import audit, channels, first_readings, fleet, readings

    total = None if any(file.rows is None for file in files) else sum(file.rows for file in files)
    with open_database(settings) as conn, progress("readings", total) as advance:
        site = fleet.facility_by_slug(conn, facility)
        kept = {place.id: place.retention_days for place in channels.places(conn)}[site.id]
        taken = window(datetime.now(UTC).timestamp(), kept or Rules().retention_days)
        judge, oldest = Judge(conn, site.id, taken), first_readings.Oldest()
        for file in files:
            for piece in file.pieces():
                rows, rejects = judge.judge(piece)
                written = readings.write(conn, site.id, rows)
                told.begun |= first_readings.begin(conn, [rows], datetime.now(UTC))
                conn.commit()
                oldest.add(rows)
                told.stored += written.stored
                told.duplicates += written.duplicates
                told.conflicts += written.conflicts
                broken = [Reject(number, "row", why) for number, why in file.broken.taken()]
                for reject in sorted([*broken, *rejects], key=lambda one: one.number):
                    told.refuse(file.path, reject)
                advance(len(piece.numbers))
            for number, why in file.broken.taken():
                told.refuse(file.path, Reject(number, "row", why))
        told.outside = oldest.outside(conn)
        taken_in = {"stored": told.stored, "duplicates": told.duplicates, "conflicts": told.conflicts}
        if any(taken_in.values()):
            audit.note(conn, site.id, "reading", ", ".join(file.path.name for file in files)[:200], taken_in)
            conn.commit()
