"""Connections to PostgreSQL, all set up alike.

Not here: statements. Each `store` module takes an open connection as its first argument and leaves commit and
rollback to the caller, since only the caller knows what belongs together.
"""

from __future__ import annotations

import socket
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import psycopg
from psycopg.rows import TupleRow
from psycopg_pool import ConnectionPool

from wickwatch.errors import UnavailableError

Connection = psycopg.Connection[TupleRow]

#: Sent with every connection: times are UTC inside, and a lost peer is noticed within a minute. No statement is
#: compiled: the server takes new tables for large ones, and a statement of a millisecond would wait two seconds for it.
_OPTIONS: dict[str, Any] = {
    "options": "-c timezone=UTC -c jit=off",
    "connect_timeout": 10,
    "keepalives_idle": 20,
    "keepalives_interval": 10,
    "keepalives_count": 3,
}


def connect(url: str, part: str, *, autocommit: bool = False) -> Connection:
    """One connection; `part` (ingest, watch, …) shows in the server's list. Raises UnavailableError."""
    try:
        return psycopg.connect(
            url, autocommit=autocommit, application_name=f"wickwatch-{part}@{socket.gethostname()}", **_OPTIONS
        )
    except psycopg.OperationalError as error:
        raise UnavailableError("database", _first_line(error)) from error


@contextmanager
def open_pool(url: str, part: str, size: int) -> Iterator[ConnectionPool[Connection]]:
    """A pool of up to `size` connections for a process that serves many at once."""
    keywords = {"application_name": f"wickwatch-{part}@{socket.gethostname()}", **_OPTIONS}
    with ConnectionPool(
        url, min_size=1, max_size=size, kwargs=keywords, open=True, timeout=10, check=ConnectionPool.check_connection
    ) as pool:
        yield pool


def _first_line(error: Exception) -> str:
    return (str(error).strip() or type(error).__name__).splitlines()[0]
