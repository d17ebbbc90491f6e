"""Each service starts from the command line, stops at a signal, and says in one sentence why it can't start."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path

import psycopg
import pytest

from tests.parts import databases, plain
from tests.parts.broker import Broker
from tests.parts.postgres import running
from tests.parts.process import free_port, wait_until
from wickwatch.store import jobs

#: Each service and the part that it says it is.
SERVICES = {"ingest": "ingest", "watch": "watch", "notify": "notify", "web": "web", "reporter": "report"}


def environment(database_url: str, broker: Broker, home: Path) -> dict[str, str]:
    return {
        "PATH": os.environ["PATH"],
        "WICKWATCH_DATABASE_URL": database_url,
        "WICKWATCH_MQTT_URL": broker.url(),
        "WICKWATCH_SECRET_KEY": "k" * 32,
        "WICKWATCH_HOME": str(home),
    }


@contextmanager
def at_work(name: str, database_url: str, broker: Broker, home: Path) -> Iterator[subprocess.Popen[bytes]]:
    """The service once it has said that it lives; its log is `home / name`."""
    command = [sys.executable, "-m", "wickwatch", name, *(["--port", str(free_port())] if name == "web" else [])]
    log = home / name
    with log.open("wb") as out:
        process = subprocess.Popen(command, env=environment(database_url, broker, home), stderr=out, stdout=out)
    try:
        with psycopg.connect(database_url, autocommit=True) as conn:
            wait_until(
                lambda: (
                    any(beat.part == SERVICES[name] and beat.healthy for beat in jobs.parts(conn))
                    or process.poll() is not None
                ),
                name,
                60,
            )
        yield process
    finally:
        process.kill()


@pytest.mark.parametrize("asked", [signal.SIGTERM, signal.SIGINT])
@pytest.mark.parametrize("name", SERVICES)
def test_a_service_stops_cleanly_when_it_is_asked_to(
    name: str, asked: signal.Signals, plain_url: str, broker: Broker, tmp_path: Path
) -> None:
    with at_work(name, plain_url, broker, tmp_path) as process:
        process.send_signal(asked)
        assert process.wait(60) == 0, (tmp_path / name).read_text()
    said = (tmp_path / name).read_text()
    assert f"service.stop service={name}" in said
    assert "Traceback" not in said
    with psycopg.connect(plain_url, autocommit=True) as conn:
        assert jobs.parts(conn) == [], "it left"


def test_services_stop_cleanly_when_the_database_was_stopped_before_them(broker: Broker, tmp_path: Path) -> None:
    with (
        running(plain.binaries(), in_memory=True) as server,
        databases.migrated(server.url()) as url,
        ExitStack() as all_,
    ):
        services = {name: all_.enter_context(at_work(name, url, broker, tmp_path)) for name in SERVICES}
        server.stop()
        for process in services.values():
            process.terminate()
        ended = {name: process.wait(60) for name, process in services.items()}
        server.start()  # for the database to be dropped
    assert not any(ended.values()), {name: (tmp_path / name).read_text() for name, code in ended.items() if code}


def test_pages_that_can_not_reach_the_database_say_so(broker: Broker, tmp_path: Path) -> None:
    own = environment(f"postgresql://127.0.0.1:{free_port()}/none", broker, tmp_path)
    command = [sys.executable, "-m", "wickwatch", "web", "--port", str(free_port())]
    ran = subprocess.run(command, env=own, capture_output=True, text=True, timeout=80, check=False)
    assert ran.returncode == 1
    assert ran.stderr.splitlines()[-1].startswith("wickwatch web: database does not answer: ")


def test_output_that_nobody_reads_to_its_end_is_no_fault(plain_url: str, broker: Broker, tmp_path: Path) -> None:
    own = environment(plain_url, broker, tmp_path)
    reader, writer = os.pipe()
    os.close(reader)
    command = [sys.executable, "-m", "wickwatch", "migrate"]
    ran = subprocess.run(command, env=own, stdout=writer, stderr=subprocess.PIPE, text=True, check=False)
    os.close(writer)
    assert (ran.returncode, "Broken" in ran.stderr, "Traceback" in ran.stderr) == (1, False, False)
