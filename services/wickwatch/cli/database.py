"""The database a command works with: the configured one, or the embedded server under the program's home.

Not here: statements, which are the store's.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

from wickwatch.settings import Settings

if TYPE_CHECKING:
    from wickwatch.store.connect import Connection


@contextmanager
def database_url(settings: Settings) -> Iterator[str]:
    """Address of the database; an embedded server that is not running is started for as long as it is needed."""
    if settings.database_url:
        yield settings.database_url
        return
    from wickwatch.embedded import Postgres

    with Postgres(settings.home).running() as url:
        yield url


@contextmanager
def open_database(settings: Settings) -> Iterator[Connection]:
    """One connection for a command's work; the caller commits. Raises UnavailableError."""
    from wickwatch.store.connect import connect

    with database_url(settings) as url, connect(url, "cli") as connection:
        yield connection
