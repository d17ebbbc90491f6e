"""What every request needs: settings, the pool, a clock, and what is remembered between requests.

Not here: who is asking (`web.access`).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import datetime
from urllib.parse import urlsplit

from psycopg_pool import ConnectionPool

from wickwatch.settings import Settings
from wickwatch.store import audit
from wickwatch.store.connect import Connection
from wickwatch.web.kept import Kept
from wickwatch.web.live import Live
from wickwatch.web.metrics import Metrics
from wickwatch.web.snapshot import Snapshots
from wickwatch.web.templates import Templates


@dataclass(frozen=True)
class Context:
    """Made once for each application; `clock` gives aware UTC time.

    With an `author`, that of one request, what its connections change is noted as that author's.
    """

    settings: Settings
    pool: ConnectionPool[Connection]
    clock: Callable[[], datetime]
    templates: Templates
    metrics: Metrics
    snapshots: Snapshots
    live: Live
    parts: Kept
    author: audit.Author | None = None

    @contextmanager
    def connection(self) -> Iterator[Connection]:
        """A connection whose transaction is committed at the end of the block, or rolled back by an error."""
        with self.pool.connection() as conn:
            if self.author is not None:
                audit.write_for(conn, self.author)
            yield conn

    def writing_for(self, author: audit.Author) -> Context:
        """The same for one request of somebody who may change something."""
        return replace(self, author=author)

    def address(self, path: str) -> str:
        """The whole address of a path, for somebody it is handed to."""
        return f"{self.settings.base_url.rstrip('/')}{path}"

    @property
    def secure(self) -> bool:
        """Whether people reach this over TLS, so that cookies must never leave without it."""
        return urlsplit(self.settings.base_url).scheme == "https"
