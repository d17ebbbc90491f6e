"""Each service starts from the command line, stops at a signal, and says in one sentence why it can't start."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from tests.parts.broker import Broker
from tests.parts.process import free_port, wait_until

#: What each says in its log when it is at work.
AT_WORK = {"ingest": "session.up", "watch": "service.start", "notify": "service.start", "web": "web.listening"}


def environment(database_url: str, broker: Broker, home: Path) -> dict[str, str]:
    return {
        "PATH": os.environ["PATH"],
        "WICKWATCH_DATABASE_URL": database_url,
        "WICKWATCH_MQTT_URL": broker.url(),
        "WICKWATCH_SECRET_KEY": "k" * 32,
        "WICKWATCH_HOME": str(home),
    }


@pytest.mark.parametrize("asked", [signal.SIGTERM, signal.SIGINT])
@pytest.mark.parametrize("name", AT_WORK)
def test_a_service_stops_cleanly_when_it_is_asked_to(
    name: str, asked: signal.Signals, plain_url: str, broker: Broker, tmp_path: Path
) -> None:
    command = [sys.executable, "-m", "wickwatch", name, *(["--port", str(free_port())] if name == "web" else [])]
    with (tmp_path / "log").open("wb") as log:
        process = subprocess.Popen(command, env=environment(plain_url, broker, tmp_path), stderr=log, stdout=log)
    try:
        wait_until(lambda: AT_WORK[name] in (tmp_path / "log").read_text() or process.poll() is not None, name, 60)
        process.send_signal(asked)
        assert process.wait(60) == 0, (tmp_path / "log").read_text()
    finally:
        process.kill()
    said = (tmp_path / "log").read_text()
    assert f"service.stop service={name}" in said
    assert "Traceback" not in said


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
