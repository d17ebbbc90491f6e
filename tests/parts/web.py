"""The web server over loopback, with a clock of the test's own.

Not here: signing in, nor any request.
"""

from __future__ import annotations

import socket
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import datetime

import uvicorn

from tests.parts.process import wait_until
from wickwatch.settings import Settings
from wickwatch.store.connect import open_pool
from wickwatch.web.app import create_app

#: What signs sessions and links in tests.
SECRET_KEY = "only for tests, 32 characters at least"


@contextmanager
def serving(database_url: str, clock: Callable[[], datetime], **more: str) -> Iterator[str]:
    """The address of a server over a database, stopped at the end; `more` are settings beside or over the usual."""
    with socket.socket() as listener, open_pool(database_url, "web", 4) as pool:
        listener.bind(("127.0.0.1", 0))
        listener.listen(64)
        address = f"http://127.0.0.1:{listener.getsockname()[1]}"
        given = {"database_url": database_url, "secret_key": SECRET_KEY, "base_url": address} | more
        settings = Settings.model_validate(given)
        config = uvicorn.Config(create_app(settings, pool, clock), log_config=None, access_log=False)
        server = uvicorn.Server(config)
        thread = threading.Thread(target=server.run, kwargs={"sockets": [listener]}, daemon=True)
        thread.start()
        try:
            wait_until(lambda: server.started, "the web server to start")
            yield address
        finally:
            server.should_exit = True
            thread.join(10)
