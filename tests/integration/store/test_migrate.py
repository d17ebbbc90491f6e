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


def newest() -> int:
    """The version of the newest migration."""
    return known()[-1].number


def following(sql: str) -> tuple[Migration, ...]:
    """The migrations there are, and one more."""
    return (*known(), Migration(newest() + 1, "following", sql, "digest"))


def test_an_empty_database_is_brought_to_this_version(empty_database_url: str) -> None:
    assert [migration.name for migration in pending(empty_database_url)] == [m.name for m in known()]
    assert value(empty_database_url, "SELECT to_regclass('schema_migration')::text") is None  # looking changed nothing
    assert migrate(empty_database_url) == newest()
    assert pending(empty_database_url) == ()
    assert value(empty_database_url, "SELECT count(*) FROM schema_migration") == len(known())


def test_a_second_run_changes_nothing(database_url: str) -> None:
    before = value(database_url, "SELECT max(applied_at) FROM schema_migration")
    assert migrate(database_url) == newest()
    assert value(database_url, "SELECT max(applied_at) FROM schema_migration") == before


def test_copies_that_start_at_once_run_each_migration_once(empty_database_url: str) -> None:
    with ThreadPoolExecutor(4) as copies:
        assert set(copies.map(migrate, [empty_database_url] * 4)) == {newest()}
    assert value(empty_database_url, "SELECT count(*) FROM schema_migration") == len(known())


def test_what_is_there_stays_when_a_migration_follows(database_url: str) -> None:
    with psycopg.connect(database_url) as conn:
        conn.execute("INSERT INTO facility (slug, name, zone) VALUES ('birchwood', 'Birchwood House', 'Europe/Oslo')")
    more = following("ALTER TABLE facility ADD COLUMN note text NOT NULL DEFAULT ''; SELECT '50%'")
    assert migrate(database_url, more) == newest() + 1
    assert value(database_url, "SELECT name || note FROM facility") == "Birchwood House"


def test_a_migration_that_fails_leaves_nothing_behind(database_url: str) -> None:
    with pytest.raises(psycopg.errors.DivisionByZero):
        migrate(database_url, following("CREATE TABLE half_done (); SELECT 1 / 0"))
    assert value(database_url, "SELECT to_regclass('half_done')::text") is None
    assert value(database_url, "SELECT max(number) FROM schema_migration") == newest()


def test_an_applied_migration_that_was_changed_is_one_clear_error(database_url: str) -> None:
    first, *rest = known()
    with pytest.raises(RefusedError, match=r"0001_first_schema\.sql is not the one this database was made with"):
        migrate(database_url, (Migration(1, first.name, first.sql, "another digest"), *rest))


def test_a_database_newer_than_the_program_is_one_clear_error(database_url: str) -> None:
    migrate(database_url, following("SELECT 1"))
    with pytest.raises(RefusedError, match=f"at version {newest() + 1}, newer than this program's {newest()}"):
        migrate(database_url)
    with pytest.raises(RefusedError):
        pending(database_url)


def test_a_table_that_others_hold_is_not_waited_for_forever(plain_url: str) -> None:
    with psycopg.connect(plain_url) as other:
        other.execute("LOCK TABLE facility IN ACCESS SHARE MODE")
        with pytest.raises(UnavailableError, match="waited 5s for a table that others use"):
            migrate(plain_url, following("ALTER TABLE facility ADD COLUMN note text"))


def test_migrations_are_numbered_from_one_and_each_number_is_used_once(tmp_path: Path) -> None:
    (tmp_path / "0002_two.sql").write_text("SELECT 2")
    with pytest.raises(RuntimeError, match="numbered from 1 on"):
        known(tmp_path)
    (tmp_path / "0001_one.sql").write_text("SELECT 1")
    (tmp_path / "0005_five.sql").write_text("SELECT 5")
    assert [migration.number for migration in known(tmp_path)] == [1, 2, 5]
    (tmp_path / "0002_two_again.sql").write_text("SELECT 2")
    with pytest.raises(RuntimeError, match="each number once"):
        known(tmp_path)


def test_a_migration_with_a_lower_number_that_comes_later_is_run_too(database_url: str) -> None:
    late = Migration(newest() + 1, "late", "CREATE TABLE late ()", "late")
    more = (*known(), late, Migration(newest() + 2, "following", "SELECT 1", "digest"))
    migrate(database_url, [one for one in more if one is not late])
    assert migrate(database_url, more) == newest() + 2
    assert value(database_url, "SELECT to_regclass('late')::text") == "late"


def test_line_endings_do_not_change_a_digest(tmp_path: Path) -> None:
    digests = set()
    for number, ending in enumerate((b"\n", b"\r\n")):
        folder = tmp_path / str(number)
        folder.mkdir()
        (folder / "0001_one.sql").write_bytes(ending.join([b"SELECT 1;", b"SELECT 2;"]))
        digests.add(known(folder)[0].digest)
    assert len(digests) == 1


def test_facilities_and_work_of_the_first_release_go_on_as_they_were(empty_database_url: str) -> None:
    migrate(empty_database_url, known()[:1])
    with psycopg.connect(empty_database_url) as conn:
        conn.execute("INSERT INTO facility (slug, name, zone) VALUES ('birchwood', 'Birchwood House', 'Europe/Oslo')")
        conn.execute(
            "INSERT INTO work_entry (facility_id, kind, subject_type, subject_id, at)"
            " SELECT id, 'checked', 'facility', id, now() FROM facility"
        )
    assert migrate(empty_database_url) == newest()
    standing = "SELECT count(*) FROM work_entry WHERE corrects IS NULL AND NOT withdrawn"
    assert (value(empty_database_url, standing), value(empty_database_url, "SELECT advice FROM facility")) == (1, {})
