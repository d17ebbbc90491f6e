"""Databases for tests: each one's own, copied from a template that the real migrations made.

Not here: the server. A test that only rolls back would not see commits, triggers at commit or two connections, so each
gets a whole database; copying the template takes a twentieth of a second (as files: with WAL it is four times that).
"""

from __future__ import annotations

import uuid
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

import psycopg
from psycopg import sql

from tests.parts.containers import Contained
from tests.parts.postgres import Server

_TEMPLATE = "migrated"
_LOCK = 7208_2015  # any number: two workers must not make the template at once


@contextmanager
def empty(server_url: str) -> Iterator[str]:
    """A database with nothing in it; dropped at the end."""
    with _created(server_url, template="template0") as url:
        yield url


@contextmanager
def migrated(server_url: str) -> Iterator[str]:
    """A database as `wickwatch migrate` leaves it; dropped at the end."""
    _ensure_template(server_url)
    with _created(server_url, template=_TEMPLATE) as url:
        yield url


@contextmanager
def copied(server_url: str, template: str) -> Iterator[str]:
    """A database like one that was `kept`; dropped at the end."""
    with _created(server_url, template) as url:
        yield url


def kept(server_url: str, fill: Callable[[str], None]) -> str:
    """The name of a migrated database that was filled once, to be `copied` as long as the server lives."""
    name = f"kept_{uuid.uuid4().hex[:12]}"
    _ensure_template(server_url)
    with psycopg.connect(server_url, autocommit=True) as connection:
        _copy(connection, _TEMPLATE, name)
        fill(_url(server_url, name))
        _close(connection, name)
    return name


def describe(server: Server | Contained) -> str:
    """What the server is, for a person: versions and the extension's edition."""
    with empty(server.url()) as url, psycopg.connect(url, autocommit=True) as connection:
        version = connection.info.server_version
        text = f"PostgreSQL {version // 10000}.{version % 10000}"
        if server.name != "timescaledb":
            return f"{text} without TimescaleDB"
        # The edition can be asked only where the extension is loaded.
        connection.execute("CREATE EXTENSION timescaledb")
        row = connection.execute(
            "SELECT extversion, current_setting('timescaledb.license') FROM pg_extension WHERE extname = 'timescaledb'"
        ).fetchone()
        assert row is not None
        edition = {"apache": "Apache", "timescale": "Community"}.get(row[1], row[1])
        return f"{text} with TimescaleDB {row[0]}, {edition} edition"


@contextmanager
def _created(server_url: str, template: str) -> Iterator[str]:
    name = f"t_{uuid.uuid4().hex[:12]}"
    with psycopg.connect(server_url, autocommit=True) as connection:
        _copy(connection, template, name)
    try:
        yield _url(server_url, name)
    finally:
        with psycopg.connect(server_url, autocommit=True) as connection:
            connection.execute(sql.SQL("DROP DATABASE IF EXISTS {} WITH (FORCE)").format(sql.Identifier(name)))


def _url(server_url: str, name: str) -> str:
    return server_url.rsplit("/", 1)[0] + f"/{name}"


def _copy(connection: psycopg.Connection[Any], template: str, name: str) -> None:
    statement = sql.SQL("CREATE DATABASE {} TEMPLATE {} STRATEGY FILE_COPY")
    connection.execute(statement.format(sql.Identifier(name), sql.Identifier(template)))


def _close(connection: psycopg.Connection[Any], name: str) -> None:
    """Let nobody in any more: TimescaleDB's scheduler visits every database it may, and one with a visitor can't be
    copied.
    """
    connection.execute(sql.SQL("ALTER DATABASE {} ALLOW_CONNECTIONS false").format(sql.Identifier(name)))
    connection.execute("SELECT pg_terminate_backend(pid, 10000) FROM pg_stat_activity WHERE datname = %s", (name,))


def _ensure_template(server_url: str) -> None:
    """Make the migrated template once in a server's life.

    It is built under another name and renamed when nobody is connected.
    """
    from wickwatch.store import migrate

    with psycopg.connect(server_url, autocommit=True) as connection:
        connection.execute("SELECT pg_advisory_lock(%s)", (_LOCK,))
        if connection.execute("SELECT 1 FROM pg_database WHERE datname = %s", (_TEMPLATE,)).fetchone():
            return
        connection.execute("DROP DATABASE IF EXISTS migrating WITH (FORCE)")
        connection.execute("CREATE DATABASE migrating")
        migrate(_url(server_url, "migrating"))
        _close(connection, "migrating")
        connection.execute(f"ALTER DATABASE migrating RENAME TO {_TEMPLATE}")
