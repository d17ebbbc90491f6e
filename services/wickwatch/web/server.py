"""Serves the application on a port until it is told to stop. Not here: the application (`web.app`).

The port is taken here and not by the server, so that a busy one ends in a sentence. The server runs in its own
thread, so that signals stay with whoever called.
"""

from __future__ import annotations

import socket
import threading
from contextlib import suppress

import psycopg
import uvicorn
from psycopg_pool import ConnectionPool, PoolTimeout

from wickwatch import log
from wickwatch.errors import RefusedError
from wickwatch.settings import Settings
from wickwatch.store import jobs
from wickwatch.store.connect import Connection, connect, open_pool
from wickwatch.web.app import create_app

#: Connections of one copy; more would only wait for the same cores.
POOL_SIZE = 8

#: How long answers that are under way may take when it stops (seconds).
_GRACE_S = 5


def run(settings: Settings, stop: threading.Event, host: str = "127.0.0.1", port: int = 8000) -> None:
    """Serve until `stop` is set; port 0 takes any free one.

    Raises RefusedError where the port is taken, UnavailableError where the database does not answer at the start.
    """
    with _listen(host, port) as listener:
        connect(settings.database_url, "web").close()
        with open_pool(settings.database_url, "web", POOL_SIZE) as pool:
            _serve(settings, stop, listener, pool)


def _serve(
    settings: Settings, stop: threading.Event, listener: socket.socket, pool: ConnectionPool[Connection]
) -> None:
    config = uvicorn.Config(
        create_app(settings, pool),
        log_config=None,
        access_log=False,
        server_header=False,
        timeout_graceful_shutdown=_GRACE_S,
        timeout_keep_alive=20,
    )
    server = uvicorn.Server(config)
    serving = threading.Thread(target=server.run, kwargs={"sockets": [listener]}, name="web", daemon=True)
    serving.start()
    host, port = listener.getsockname()[:2]
    log.event("web.listening", host=host, port=port)
    instance = jobs.this_instance()
    try:
        while serving.is_alive():
            _beat(pool, instance)
            if stop.wait(jobs.BEAT_SECONDS):
                break
    finally:
        server.should_exit = True
        serving.join(_GRACE_S + 5)
        with suppress(psycopg.Error, PoolTimeout), pool.connection(timeout=2) as conn:
            jobs.leave(conn, "web", instance)
    if not stop.is_set():
        raise RuntimeError("the server ended by itself")


def _beat(pool: ConnectionPool[Connection], instance: str) -> None:
    """Say that this copy lives; a database that is away is met by every page anyhow."""
    try:
        with pool.connection(timeout=5) as conn:
            jobs.beat(conn, "web", instance)
    except (psycopg.Error, PoolTimeout) as error:
        log.warning("web.beat_failed", why=type(error).__name__)


def _listen(host: str, port: int) -> socket.socket:
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    listener = socket.socket(family, socket.SOCK_STREAM)
    try:
        listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        listener.bind((host, port))
        listener.listen(128)
    except OSError as error:
        listener.close()
        why = (error.strerror or str(error)).lower()
        raise RefusedError(f"port {port} on {host} can't be used: {why}; choose another with --port") from error
    return listener
