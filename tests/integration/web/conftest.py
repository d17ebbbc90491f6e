"""A site with two facilities behind a real server, and people signed in to it."""

from __future__ import annotations

import ssl
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from copy import deepcopy
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from functools import cache
from typing import Any

import httpx
import psycopg
import pytest

from tests.builders.scene import Scene, scene
from tests.parts import databases
from tests.parts.web import serving
from wickwatch.store import access, people, tokens

NOW = datetime(2026, 11, 25, 9, 30, tzinfo=UTC)

#: Sites speak plain HTTP: without this, each client reads all certificate authorities of the machine.
_NO_AUTHORITIES = ssl.SSLContext(ssl.PROTOCOL_TLS_CLIENT)


@dataclass
class Site:
    """The server, its database, and the clock that both go by."""

    address: str
    database_url: str
    scene: Scene
    now: datetime = NOW
    stack: ExitStack = field(default_factory=ExitStack)

    def visitor(self, **headers: str) -> httpx.Client:
        """Somebody who is not signed in."""
        client = httpx.Client(base_url=self.address, headers=headers, timeout=30, verify=_NO_AUTHORITIES)
        return self.stack.enter_context(client)

    def program(self, name: str) -> httpx.Client:
        """A program with a person's token."""
        with self.connect() as conn:
            token = tokens.new_token(conn, name, "test")
        return self.visitor(Authorization=f"Bearer {token}")

    def browser(self, name: str) -> httpx.Client:
        """A person's browser with a session, as signing in leaves it (which has tests of its own)."""
        client = self.visitor(Accept="text/html")
        with self.connect() as conn:
            person_id = people.person_named(conn, name)
            secret = access.open_session(conn, person_id, "127.0.0.1", self.now, None)
        client.cookies.set("wickwatch_session", secret, domain="127.0.0.1", path="/")
        return client

    def connect(self) -> psycopg.Connection[Any]:
        """A connection to the database, committed at the end of its block."""
        return psycopg.connect(self.database_url, options="-c timezone=UTC")


@contextmanager
def opened(server: str, **settings: str) -> Iterator[Site]:
    """A site with a database of its own on a server; `settings` are beside those that every site has."""
    template, made = _filled(server)
    with databases.copied(server, template) as database_url:
        site = Site("", database_url, deepcopy(made))
        with serving(database_url, lambda: site.now, **settings) as address, site.stack:
            site.address = address
            yield site


@cache
def _filled(server: str) -> tuple[str, Scene]:
    """A database with the scene in it, which all sites on a server are copies of, and what its ids are."""
    made: list[Scene] = []

    def fill(database_url: str) -> None:
        with psycopg.connect(database_url, options="-c timezone=UTC") as conn:
            made.append(scene(conn, NOW, days=0.25))

    return databases.kept(server, fill), made[0]


@pytest.fixture(scope="module")
def shown(plain_server: str) -> Iterator[Site]:
    """One site for all tests of a module that only look."""
    with opened(plain_server) as site:
        yield site


@pytest.fixture
def site(plain_server: str) -> Iterator[Site]:
    """A site over plain PostgreSQL, for what does not depend on the engine."""
    with opened(plain_server) as site:
        yield site


@pytest.fixture
def both_site(server: str) -> Iterator[Site]:
    """A site over each engine in turn."""
    with opened(server) as site:
        yield site


def later(site: Site, **span: float) -> None:
    """Move the site's clock on."""
    site.now += timedelta(**span)
