"""Bringing a database to this version's schema: numbered `.sql` files, forward only, each run once.

Not here: the statements themselves; they are the files in `db/migrations`, which an installed package carries as
`wickwatch/migrations`. A plain advisory lock makes two copies at once safe: the second waits and finds nothing to do.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from importlib import resources
from importlib.resources.abc import Traversable
from pathlib import Path
from typing import LiteralString

import psycopg

from wickwatch import log
from wickwatch.errors import RefusedError, UnavailableError
from wickwatch.store import timescale
from wickwatch.store.connect import Connection, connect

#: Key of the advisory lock; any number that nothing else in the database uses.
_LOCK = 7_230_110_001

#: A migration waits this long for a table others use; longer would make everyone behind it wait, too.
_LOCK_TIMEOUT = "5s"
_STATEMENT_TIMEOUT = "15min"

_FILE_NAME = re.compile(r"(\d{4})_([a-z0-9_]+)\.sql")

# The record of what was run; made here because it must exist before the first migration.
_CREATE_RECORD: LiteralString = """
    CREATE TABLE IF NOT EXISTS schema_migration (
        number integer PRIMARY KEY,
        name text NOT NULL,
        digest text NOT NULL,
        applied_at timestamptz NOT NULL DEFAULT now()
    )"""

# Whether the record exists, so that looking at an empty database changes nothing in it.
_HAS_RECORD: LiteralString = "SELECT to_regclass('schema_migration') IS NOT NULL"

# What was run so far.
_APPLIED: LiteralString = "SELECT number, digest FROM schema_migration ORDER BY number"

# Note one migration, in its own transaction.
_RECORD: LiteralString = "INSERT INTO schema_migration (number, name, digest) VALUES (%s, %s, %s)"


@dataclass(frozen=True)
class Migration:
    """One file: its number, its name, its SQL, and the digest by which a later change to it is noticed."""

    number: int
    name: str
    sql: str
    digest: str


def known(folder: Traversable | None = None) -> tuple[Migration, ...]:
    """Migrations this version carries, in order; numbers ascend from 1, and a gap is a number nobody used."""
    found = []
    for entry in (folder or _folder()).iterdir():
        match = _FILE_NAME.fullmatch(entry.name)
        if match:
            sql = entry.read_text(encoding="utf-8").replace("\r\n", "\n")
            digest = hashlib.sha256(sql.encode()).hexdigest()
            found.append(Migration(int(match[1]), match[2], sql, digest))
    found.sort(key=lambda migration: migration.number)
    numbers = [migration.number for migration in found]
    if not numbers or numbers[0] != 1 or len(set(numbers)) < len(numbers):
        raise RuntimeError(f"migrations must be numbered from 1 on, each number once: {numbers}")
    return tuple(found)


def migrate(url: str, migrations: Sequence[Migration] | None = None) -> int:
    """Run what the database lacks and return its version.

    Raises RefusedError where an applied file was changed or the database is newer than this program, and
    UnavailableError where the server does not answer or others hold a table for too long.
    """
    files = known() if migrations is None else tuple(migrations)
    with connect(url, "migrate", autocommit=True) as conn, _one_at_a_time(conn):
        conn.execute(_CREATE_RECORD)
        for migration in _missing(conn, files):
            _run(conn, migration)
            log.event("schema.migrated", number=migration.number, name=migration.name)
        with conn.transaction():
            timescale.settle(conn)
    return files[-1].number


def pending(url: str) -> tuple[Migration, ...]:
    """Migrations that the database lacks, without changing it; errors as `migrate`."""
    with connect(url, "migrate", autocommit=True) as conn:
        if not _value(conn, _HAS_RECORD):
            return known()
        return _missing(conn, known())


def _folder() -> Traversable:
    installed = resources.files("wickwatch") / "migrations"
    return installed if installed.is_dir() else Path(__file__).resolve().parents[3] / "db" / "migrations"


@contextmanager
def _one_at_a_time(conn: Connection) -> Iterator[None]:
    conn.execute("SELECT pg_advisory_lock(%s)", [_LOCK])
    try:
        yield
    finally:
        if not conn.closed:
            conn.execute("SELECT pg_advisory_unlock(%s)", [_LOCK])


def _missing(conn: Connection, files: Sequence[Migration]) -> tuple[Migration, ...]:
    applied: dict[int, str] = dict(conn.execute(_APPLIED).fetchall())
    newest = max(applied, default=0)
    if newest > files[-1].number:
        raise RefusedError(
            f"the database is at version {newest}, newer than this program's {files[-1].number}; "
            "install the version that migrated it, or a later one"
        )
    for migration in files:
        if applied.get(migration.number, migration.digest) != migration.digest:
            raise RefusedError(
                f"migration {migration.number:04d}_{migration.name}.sql is not the one this database was made with; "
                "applied migrations are never changed, put the file back and add a new one"
            )
    return tuple(migration for migration in files if migration.number not in applied)


def _run(conn: Connection, migration: Migration) -> None:
    name = f"migration {migration.number:04d}_{migration.name}.sql"
    try:
        with conn.transaction():
            conn.execute("SELECT set_config('lock_timeout', %s, true)", [_LOCK_TIMEOUT])
            conn.execute("SELECT set_config('statement_timeout', %s, true)", [_STATEMENT_TIMEOUT])
            conn.execute(migration.sql.encode())
            conn.execute(_RECORD, [migration.number, migration.name, migration.digest])
    except psycopg.errors.LockNotAvailable as error:
        why = f"{name} waited {_LOCK_TIMEOUT} for a table that others use; nothing was changed, try again"
        raise UnavailableError("database", why) from error
    except psycopg.errors.InsufficientPrivilege as error:
        raise RefusedError(f"{name}: {error.diag.message_primary}; a superuser must do that once") from error


def _value(conn: Connection, statement: LiteralString) -> object:
    row = conn.execute(statement).fetchone()
    return None if row is None else row[0]
