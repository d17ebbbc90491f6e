"""`wickwatch export`: readings, alarms or work entries as CSV or Parquet.

Not here: how a table becomes a file (`table_file`). Readings are written as `wickwatch import` takes them.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

from wickwatch.cli.arguments import Subparsers, add_period, command, slug

if TYPE_CHECKING:
    from wickwatch.settings import Settings
    from wickwatch.store.connect import Connection
    from wickwatch.store.transfer import Wanted

#: Rows that are gathered before they are written.
PIECE = 100_000


def add_parser(commands: Subparsers[argparse.ArgumentParser]) -> None:
    """Add this command's arguments."""
    made = command(commands, "export", "writes readings, alarms or work entries to a CSV or Parquet file", run)
    what = ("readings", "alarms", "work")
    made.add_argument("--what", choices=what, default="readings", help="what to write (%(default)s)")
    add_period(made)
    made.add_argument("--facility", type=slug, metavar="F", help="of this facility, where there are several")
    made.add_argument("--room", type=slug, metavar="R", help="only of this room; readings while they measured it")
    made.add_argument("--out", type=_table, required=True, metavar="FILE", help="a name that ends in .csv or .parquet")


def _table(text: str) -> Path:
    if not text.endswith((".csv", ".parquet")):
        raise argparse.ArgumentTypeError(f"{text!r} ends neither in .csv nor in .parquet")
    return Path(text)


def run(args: argparse.Namespace, settings: Settings) -> int:
    """Write the file; it is there whole or not at all."""
    from wickwatch.cli.database import open_database
    from wickwatch.cli.progress import progress
    from wickwatch.cli.table_file import writing
    from wickwatch.errors import InputError
    from wickwatch.store import fleet, transfer

    if args.end <= args.start:
        raise InputError("--to", args.end.isoformat(), f"a time after --from {args.start.isoformat()}")
    with open_database(settings) as conn, progress(args.what, None) as advance:
        site = fleet.facility_by_slug(conn, args.facility)
        rooms = None
        if args.room is not None:
            rooms, known = transfer.rooms_of_slug(conn, site.id, args.room)
            if not rooms:
                raise InputError("room", args.room, "one of: " + ", ".join(known))
        wanted = transfer.Wanted(site.id, rooms, args.start, args.end)
        schema, tables = _tables(conn, args.what, wanted)
        count = 0
        with writing(args.out, schema) as write:
            for table in tables:
                write(table)
                count += table.num_rows
                advance(table.num_rows)
    print(f"{count} {'work entries' if args.what == 'work' else args.what} in {args.out}")
    return 0


def _tables(conn: Connection, what: str, wanted: Wanted) -> tuple[Any, Iterator[Any]]:
    """Schema and pieces of what is asked for."""
    from wickwatch.cli.table_file import of_rows, schema
    from wickwatch.store import transfer

    if what == "readings":
        columns = schema(("channel", "at", "value", "unit"), numbers=("value",))
        return columns, _readings(conn, wanted, columns)
    rows, names = (
        (transfer.alarms, transfer.ALARM_COLUMNS) if what == "alarms" else (transfer.work, transfer.WORK_COLUMNS)
    )
    columns = schema(names)
    return columns, (of_rows(piece, columns) for piece in rows(conn, wanted, PIECE))


def _readings(conn: Connection, wanted: Wanted, columns: Any) -> Iterator[Any]:
    """Readings by channel and time, a few channels or a part of one at once."""
    import pyarrow as pa

    from wickwatch.agronomy.units import QUANTITIES
    from wickwatch.cli.readings_judge import as_stored
    from wickwatch.store import readings, transfer

    waiting: list[Any] = []
    rows = 0
    for part in transfer.stretches(conn, wanted):
        found = readings.series(conn, part.channel_id, part.start, part.end)
        unit = part.unit if part.unit in QUANTITIES[part.quantity].kept_units else as_stored(part.quantity)
        length = len(found.at)
        if not length:
            continue
        arrays = [
            pa.repeat(part.name, length),
            pa.array(found.at).cast(columns.field("at").type),
            pa.array(found.mean),
            pa.repeat(unit, length),
        ]
        waiting.append(pa.table(arrays, schema=columns))
        rows += length
        if rows >= PIECE:
            yield pa.concat_tables(waiting)
            waiting, rows = [], 0
    if waiting:
        yield pa.concat_tables(waiting)
