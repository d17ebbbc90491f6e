"""Migrations: run once each, under one lock, forward only."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import psycopg
import pytest

from wickwatch.errors import RefusedError, UnavailableError
from wickwatch.store import migrate, pending
from wickwatch.store.migrate import Migration, known


def value(url: str, statement: str) -> object:
    with psycopg.connect(url) as conn:
        row = conn.execute(statement).fetchone()  # type: ignore[call-overload]
    return None if row is None else row[0]


def following(sql: str) -> tuple[Migration, ...]:
    """The migrations there are, and one more."""
    return (*known(), Migration(len(known()) + 1, "following", sql, "digest"))


def test_an_empty_database_is_brought_to_this_version(empty_database_url: str) -> None:
    assert [migration.name for migration in pending(empty_database_url)] == [m.name for m in known()]
    assert value(empty_database_url, "SELECT to_regclass('schema_migration')::text") is None  # looking changed nothing
    assert migrate(empty_database_url) == len(known())
    assert pending(empty_database_url) == ()
    assert value(empty_database_url, "SELECT count(*) FROM schema_migration") == len(known())


def test_a_second_run_changes_nothing(database_url: str) -> None:
    before = value(database_url, "SELECT max(applied_at) FROM schema_migration")
    assert migrate(database_url) == len(known())
    assert value(database_url, "SELECT max(applied_at) FROM schema_migration") == before


def test_copies_that_start_at_once_run_each_migration_once(empty_database_url: str) -> None:
    with ThreadPoolExecutor(4) as copies:
        assert set(copies.map(migrate, [empty_database_url] * 4)) == {len(known())}
    assert value(empty_database_url, "SELECT count(*) FROM schema_migration") == len(known())


def test_what_is_there_stays_when_a_migration_follows(database_url: str) -> None:
    with psycopg.connect(database_url) as conn:
        conn.execute("INSERT INTO facility (slug, name, zone) VALUES ('birchwood', 'Birchwood House', 'Europe/Oslo')")
    more = following("ALTER TABLE facility ADD COLUMN note text NOT NULL DEFAULT ''; SELECT '50%'")
    assert migrate(database_url, more) == len(more)
    assert value(database_url, "SELECT name || note FROM facility") == "Birchwood House"


def test_a_migration_that_fails_leaves_nothing_behind(database_url: str) -> None:
    with pytest.raises(psycopg.errors.DivisionByZero):
        migrate(database_url, following("CREATE TABLE half_done (); SELECT 1 / 0"))
    assert value(database_url, "SELECT to_regclass('half_done')::text") is None
    assert value(database_url, "SELECT max(number) FROM schema_migration") == len(known())


def test_an_applied_migration_that_was_changed_is_one_clear_error(database_url: str) -> None:
    first, *rest = known()
    with pytest.raises(RefusedError, match=r"0001_first_schema\.sql is not the one this database was made with"):
        migrate(database_url, (Migration(1, first.name, first.sql, "another digest"), *rest))


def test_a_database_newer_than_the_program_is_one_clear_error(database_url: str) -> None:
    migrate(database_url, following("SELECT 1"))
    with pytest.raises(RefusedError, match=r"the database is at version 2, newer than this program's 1"):
        migrate(database_url)
    with pytest.raises(RefusedError):
        pending(database_url)


def test_a_table_that_others_hold_is_not_waited_for_forever(plain_url: str) -> None:
    with psycopg.connect(plain_url) as other:
        other.execute("LOCK TABLE facility IN ACCESS SHARE MODE")
        with pytest.raises(UnavailableError, match="waited 5s for a table that others use"):
            migrate(plain_url, following("ALTER TABLE facility ADD COLUMN note text"))


def test_migrations_are_numbered_without_a_gap(tmp_path: Path) -> None:
    (tmp_path / "0001_one.sql").write_text("SELECT 1")
    (tmp_path / "0003_three.sql").write_text("SELECT 3")
    with pytest.raises(RuntimeError, match="numbered 1, 2, 3"):
        known(tmp_path)


def test_line_endings_do_not_change_a_digest(tmp_path: Path) -> None:
    digests = set()
    for number, ending in enumerate((b"\n", b"\r\n")):
        folder = tmp_path / str(number)
        folder.mkdir()
        (folder / "0001_one.sql").write_bytes(ending.join([b"SELECT 1;", b"SELECT 2;"]))
        digests.add(known(folder)[0].digest)
    assert len(digests) == 1
