"""The notify process for tests: run in a thread, or as a process of its own that can be killed."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import textwrap
import threading
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager
from datetime import timedelta
from functools import partial
from pathlib import Path

import pytest

from tests.integration.alarms.house import build, connect
from tests.parts.process import folder, spawn
from wickwatch.notify.process import run
from wickwatch.notify.retry import Retry
from wickwatch.settings import Settings
from wickwatch.store.connect import Connection

#: Tries soon enough for a test; the same shape as the real one.
QUICK = Retry(waits=tuple(timedelta(milliseconds=ms) for ms in (100, 200, 400)))

Running = Callable[..., AbstractContextManager[threading.Event]]


@pytest.fixture
def conn(plain_url: str) -> Iterator[Connection]:
    """The house in a database; sending does not depend on which."""
    with connect(plain_url) as connection:
        build(connection)
        yield connection


@contextmanager
def running(url: str, retry: Retry = QUICK, **given: str) -> Iterator[threading.Event]:
    """The process in a thread while a block lasts, with the settings given."""
    settings = Settings(database_url=url, **{"mail_from": "wickwatch@example.net", **given})  # type: ignore[arg-type]
    stop = threading.Event()
    thread = threading.Thread(target=run, args=(settings, stop, retry))
    thread.start()
    try:
        yield stop
    finally:
        stop.set()
        thread.join(30)
        assert not thread.is_alive(), "the process stops when it is told to"


@pytest.fixture
def notifying(plain_url: str) -> Running:
    """Runs the process in a thread while a block lasts."""
    return partial(running, plain_url)


#: The process as it is deployed, but with a short lease, and killed at a point that the test names.
CHILD = """
    import os, signal, sys, threading
    from datetime import timedelta
    from wickwatch import log
    from wickwatch.notify import outbox, process
    from wickwatch.notify.channels import Email, Push, Service, Webhook
    from wickwatch.settings import Settings
    from wickwatch.store import notices

    url, smtp, way, point = sys.argv[1:]
    channel = {"email": Email, "webhook": Webhook, "push": Push, "service": Service}[way]
    log.to_stream(sys.stdout)
    outbox.LEASE = timedelta(seconds=2)

    def killed_in(module, name, *, after):
        real = getattr(module, name)
        def wrapped(*args, **kwargs):
            result = real(*args, **kwargs) if after else None
            if result is not None or not after or name.startswith("record"):
                os.kill(os.getpid(), signal.SIGKILL)
            return result
        setattr(module, name, wrapped)

    if point == "after the claim":
        killed_in(notices, "claim", after=True)
    elif point == "before sending":
        killed_in(channel, "send", after=False)
    elif point == "after sending":
        killed_in(channel, "send", after=True)
    elif point == "in the record's transaction":
        killed_in(notices, "record_sent", after=True)
    settings = Settings(database_url=url, smtp_url=smtp, mail_from="wickwatch@example.net")
    stop = threading.Event()
    signal.signal(signal.SIGTERM, lambda *_: stop.set())
    process.run(settings, stop)
"""


@contextmanager
def child(url: str, smtp_url: str, point: str = "never", way: str = "email") -> Iterator[subprocess.Popen[bytes]]:
    """The notify process as a child; `point` of a way is where it kills itself, as `kill -9` would."""
    with folder() as home:
        log = home / "log"
        root = Path(__file__).parents[3]
        environment = {"PATH": os.environ["PATH"], "PYTHONPATH": str(root / "services")}
        command = [sys.executable, "-c", textwrap.dedent(CHILD), url, smtp_url, way, point]
        process = spawn(command, log, env=environment, dies_by=signal.SIGKILL)
        try:
            yield process
        finally:
            process.kill()
            process.wait()
            if "Traceback" in log.read_text():
                pytest.fail(log.read_text()[-2000:])
