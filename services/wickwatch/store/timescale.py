"""The one module that knows where PostgreSQL with and without TimescaleDB, and its two editions, differ.

    none        a plain table
    apache      a hypertable: chunks by day, dropped whole
    timescale   the Community edition: the same, and chunks older than a week kept in columns

The hypertable itself is made by the first migration. What may change with the server's edition is settled here after
every migration, so that a database moved to another edition is set up by starting once.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any, Literal, LiteralString

from wickwatch.store.connect import Connection

Edition = Literal["none", "apache", "timescale"]

# The edition in use; the licence can only be asked for where the extension is loaded.
_EDITION: LiteralString = """
    SELECT CASE WHEN NOT EXISTS (SELECT FROM pg_extension WHERE extname = 'timescaledb') THEN 'none'
                ELSE current_setting('timescaledb.license') END"""

# Version of the extension, null without it.
_VERSION: LiteralString = "SELECT extversion FROM pg_extension WHERE extname = 'timescaledb'"

# Whether columns are already set up; setting them again would need every compressed chunk opened.
_COLUMNS: LiteralString = """
    SELECT compression_enabled FROM timescaledb_information.hypertables
    WHERE hypertable_schema = current_schema() AND hypertable_name = 'reading'"""

# Keep old chunks by column, those of one channel together in the order of time, as pages and sweeps read them.
_SET_COLUMNS: LiteralString = """
    ALTER TABLE reading SET (timescaledb.compress, timescaledb.compress_segmentby = 'channel_id',
                             timescaledb.compress_orderby = 'at')"""

# Turn a chunk into columns when late readings have become rare.
_COLUMN_POLICY: LiteralString = "SELECT add_compression_policy('reading', interval '7 days', if_not_exists => true)"

# Drop the chunks that lie wholly before a moment; those that only begin before it stay.
_DROP_CHUNKS: LiteralString = "SELECT count(*) FROM drop_chunks('reading', older_than => %s::timestamptz)"

# Delete by channel, so that the primary key finds the rows.
_DELETE: LiteralString = "DELETE FROM reading USING channel WHERE channel_id = channel.id AND at < %s"

# Sizes in bytes: the whole database, and readings with their index.
_SIZES_PLAIN: LiteralString = "SELECT pg_database_size(current_database()), pg_total_relation_size('reading'), 0"
_SIZES_CHUNKS: LiteralString = """
    SELECT pg_database_size(current_database()), coalesce(hypertable_size('reading'), 0),
           (SELECT count(*) FROM timescaledb_information.chunks WHERE hypertable_name = 'reading')"""


@dataclass(frozen=True)
class Sizes:
    """What the database takes on disk, in bytes; `chunks` is 0 without TimescaleDB."""

    database_bytes: int
    reading_bytes: int
    chunks: int


def edition(conn: Connection) -> Edition:
    """The edition that this database uses."""
    found: Edition = _one(conn, _EDITION)[0]
    return found


def version(conn: Connection) -> str | None:
    """Version of TimescaleDB, `None` where this database does without."""
    row = conn.execute(_VERSION).fetchone()
    return None if row is None else str(row[0])


def settle(conn: Connection) -> Edition:
    """Set up what the edition at hand offers; changes nothing where that was done before."""
    found = edition(conn)
    if found == "timescale":
        if not _one(conn, _COLUMNS)[0]:
            conn.execute(_SET_COLUMNS)
        conn.execute(_COLUMN_POLICY)
    return found


def drop_old_readings(conn: Connection, before: datetime) -> int:
    """Drop readings older than `before`; returns chunks dropped, or rows deleted without TimescaleDB.

    With chunks, readings of the day that `before` falls in stay until that day is over.
    """
    if edition(conn) == "none":
        return conn.execute(_DELETE, [before]).rowcount
    return int(_one(conn, _DROP_CHUNKS, before)[0])


def sizes(conn: Connection) -> Sizes:
    """What is on disk."""
    return Sizes(*_one(conn, _SIZES_PLAIN if edition(conn) == "none" else _SIZES_CHUNKS))


def _one(conn: Connection, statement: LiteralString, *parameters: object) -> tuple[Any, ...]:
    row = conn.execute(statement, parameters).fetchone()
    if row is None:
        raise LookupError(f"no row from: {statement}")
    return row
