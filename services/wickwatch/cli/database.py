"""The database a command works with: the configured one, or the embedded server under the program's home.

Not here: statements, which are the store's.
"""

from __future__ import annotations

import getpass
import os
import socket
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from typing import TYPE_CHECKING

from wickwatch.cli.arguments import RUNNING
from wickwatch.settings import Settings

if TYPE_CHECKING:
    from wickwatch.store.audit import Author
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
    """One connection for a command's work; the caller commits. Raises UnavailableError.

    What it changes is one entry of the audit log, by whichever account of the machine runs it.
    """
    from wickwatch.store import audit
    from wickwatch.store.connect import connect

    with database_url(settings) as url, connect(url, "cli") as connection:
        audit.write_for(connection, _author(), whole=True)
        connection.commit()
        yield connection


def _author() -> Author:
    from wickwatch.store import audit

    try:
        account = getpass.getuser()
    except (OSError, KeyError):  # an id without an account, as in some containers
        account = f"user {os.getuid()}"
    action = f"wickwatch {RUNNING.get()}".strip()
    return audit.author(
        datetime.now(UTC), account, "command", socket.gethostname(), action, "Run on the machine itself"
    )
