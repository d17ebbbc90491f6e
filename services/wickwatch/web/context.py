"""What every request needs: settings, the pool, a clock, and what is remembered between requests.

Not here: who is asking (`web.access`).
"""

from __future__ import annotations

from collections.abc import Callable
from contextlib import AbstractContextManager
from dataclasses import dataclass
from datetime import datetime
from urllib.parse import urlsplit

from psycopg_pool import ConnectionPool

from wickwatch.settings import Settings
from wickwatch.store.connect import Connection
from wickwatch.web.kept import Kept
from wickwatch.web.live import Live
from wickwatch.web.metrics import Metrics
from wickwatch.web.snapshot import Snapshots
from wickwatch.web.templates import Templates


@dataclass(frozen=True)
class Context:
    """Made once for each application; `clock` gives aware UTC time."""

    settings: Settings
    pool: ConnectionPool[Connection]
    clock: Callable[[], datetime]
    templates: Templates
    metrics: Metrics
    snapshots: Snapshots
    live: Live
    parts: Kept

    def connection(self) -> AbstractContextManager[Connection]:
        """A connection whose transaction is committed at the end of the block, or rolled back by an error."""
        return self.pool.connection()

    @property
    def secure(self) -> bool:
        """Whether people reach this over TLS, so that cookies must never leave without it."""
        return urlsplit(self.settings.base_url).scheme == "https"
