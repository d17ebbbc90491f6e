"""`wickwatch fleet apply` and `wickwatch fleet export`: the declarative inventory, in and out.

Not here: what the file means (`fleet.document`), what differs (`fleet.difference`), how it is stored (`store.fleet`).
"""

from __future__ import annotations

import argparse
import sys
from collections import Counter
from pathlib import Path
from typing import TYPE_CHECKING

from wickwatch.cli.arguments import Subparsers, command, moment, slug

if TYPE_CHECKING:
    from wickwatch.settings import Settings


def add_parser(commands: Subparsers[argparse.ArgumentParser]) -> None:
    """Add this command's arguments, and those of its two sub-commands."""
    made = command(commands, "fleet", "applies or writes the fleet file: what exists, and what measures it", run)
    actions = made.add_subparsers(dest="action", metavar="apply|export", required=True)

    apply = command(actions, "apply", "shows what would change, then changes it; never drops history", run)
    apply.add_argument("file", metavar="FILE.toml", help="the fleet file; - reads standard input")
    apply.add_argument("--dry-run", action="store_true", help="only show what would change")
    apply.add_argument(
        "--from",
        dest="at",
        metavar="T",
        type=moment,
        help="moment from which the new attachments hold (now; of channels never heard, their first reading)",
    )

    export = command(actions, "export", "writes the fleet file that describes what is there", run)
    export.add_argument("--facility", type=slug, metavar="F", help="only this facility, by its slug")
    export.add_argument("--out", type=Path, metavar="FILE", help="where to write (standard output)")


def run(args: argparse.Namespace, settings: Settings) -> int:
    """Apply a file, or write one."""
    return _apply(args, settings) if args.action == "apply" else _export(args, settings)


def _apply(args: argparse.Namespace, settings: Settings) -> int:
    from wickwatch.cli.database import open_database
    from wickwatch.fleet.difference import difference
    from wickwatch.fleet.document import parse
    from wickwatch.store import first_readings, fleet

    text = sys.stdin.buffer.read() if args.file == "-" else Path(args.file).read_bytes()
    wanted = parse(text, "standard input" if args.file == "-" else args.file)
    with open_database(settings) as conn:
        if not args.dry_run:
            fleet.lock(conn)
        changes = difference(wanted, fleet.declared(conn, [facility.slug for facility in wanted]))
        for change in changes:
            print(change)
        heard_before = 0
        if not args.dry_run:
            fleet.apply(conn, changes, args.at)
            heard_before = first_readings.heard_before(conn)
            conn.commit()
    counts = Counter(change.action for change in changes)
    total = ", ".join(f"{count} to {action}" for action, count in counts.items()) or "nothing to change"
    print(f"{total}; nothing was changed" if args.dry_run and changes else f"{total}{'; done' if changes else ''}")
    if heard_before:
        print(f"{heard_before} of these channels were heard before: what they measured until then belongs to nothing")
    return 0


def _export(args: argparse.Namespace, settings: Settings) -> int:
    from wickwatch.cli.database import open_database
    from wickwatch.errors import InputError
    from wickwatch.fleet.writing import to_toml
    from wickwatch.store import fleet

    with open_database(settings) as conn:
        found = fleet.declared(conn, None if args.facility is None else [args.facility])
        if args.facility is not None and not found:
            raise InputError(
                "facility",
                args.facility,
                "one of: " + ", ".join(site.slug for site in fleet.facilities(conn)),
            )
    text = to_toml(found)
    if args.out is None:
        sys.stdout.write(text)
    else:
        args.out.write_text(text, encoding="utf-8")
    return 0
