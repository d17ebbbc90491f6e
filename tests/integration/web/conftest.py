"""A site with two facilities behind a real server, and people signed in to it."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import ExitStack
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from typing import Any

import httpx
import psycopg
import pytest

from tests.builders.scene import PASSWORD, Scene, scene
from tests.parts.web import serving
from wickwatch.store import access

NOW = datetime(2026, 11, 25, 9, 30, tzinfo=UTC)


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
        return self.stack.enter_context(httpx.Client(base_url=self.address, headers=headers, timeout=30))

    def program(self, name: str) -> httpx.Client:
        """A program with a person's token."""
        with self.connect() as conn:
            token = access.new_token(conn, name, "test")
        return self.visitor(Authorization=f"Bearer {token}")

    def browser(self, name: str) -> httpx.Client:
        """A person's browser, signed in."""
        client = self.visitor(Accept="text/html")
        answer = client.post("/sign-in", data={"name": name, "password": PASSWORD})
        assert answer.status_code == 303, answer.text
        return client

    def connect(self) -> psycopg.Connection[Any]:
        """A connection to the database, committed at the end of its block."""
        return psycopg.connect(self.database_url, options="-c timezone=UTC")


@pytest.fixture
def open_site() -> Iterator[Callable[[str], Site]]:
    """Opens a site over a database."""
    with ExitStack() as stack:

        def opened(database_url: str) -> Site:
            with psycopg.connect(database_url, options="-c timezone=UTC") as conn:
                made = scene(conn, NOW, days=0.25)
            site = Site("", database_url, made)
            site.address = stack.enter_context(serving(database_url, lambda: site.now))
            stack.enter_context(site.stack)
            return site

        yield opened


@pytest.fixture
def site(open_site: Callable[[str], Site], plain_url: str) -> Site:
    """A site over plain PostgreSQL, for what does not depend on the engine."""
    return open_site(plain_url)


@pytest.fixture
def both_site(open_site: Callable[[str], Site], database_url: str) -> Site:
    """A site over each engine in turn."""
    return open_site(database_url)


def later(site: Site, **span: float) -> None:
    """Move the site's clock on."""
    site.now += timedelta(**span)
