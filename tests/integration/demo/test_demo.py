"""`wickwatch demo`, as somebody who has just cloned the repository meets it."""

from __future__ import annotations

import json
import os
import re
import signal
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import httpx
import pytest

from tests.parts.process import free_port, wait_until

PATIENCE_S = 240


@dataclass
class Demo:
    """A started demo: its process, its folder and what it printed so far."""

    process: subprocess.Popen[bytes]
    home: Path
    port: int

    @property
    def said(self) -> str:
        return (self.home.parent / "said.txt").read_text()

    def ready(self) -> bool:
        assert self.process.poll() is None, self.said
        return "Sign in" in self.said

    def ends(self, with_code: int) -> None:
        assert self.process.wait(60) == with_code, self.said
        wait_until(lambda: not running_in(self.home), "every process of the demo to end", 20)


def running_in(home: Path) -> list[str]:
    """Command lines of processes that work on this folder."""
    found = []
    for each in Path("/proc").glob("[0-9]*/environ"):
        try:
            if f"WICKWATCH_HOME={home}".encode() in each.read_bytes():
                found.append((each.parent / "cmdline").read_bytes().replace(b"\0", b" ").decode())
        except OSError:
            continue
    return found


def start(folder: Path, port: int, *more: str) -> Demo:
    home = folder / "state"
    kept = {name: value for name, value in os.environ.items() if not name.startswith("WICKWATCH_")}
    with (folder / "said.txt").open("ab") as out:
        process = subprocess.Popen(
            [sys.executable, "-m", "wickwatch", "demo", "--rooms", "2", "--days", "4", "--port", str(port), *more],
            stdout=out,
            stderr=out,
            env=kept | {"WICKWATCH_HOME": str(home)},
        )
    return Demo(process, home, port)


@pytest.fixture
def demo(tmp_path: Path) -> Iterator[Demo]:
    started = start(tmp_path, free_port())
    try:
        wait_until(started.ready, "the demo to be ready", PATIENCE_S)
        yield started
    finally:
        if started.process.poll() is None:
            started.process.send_signal(signal.SIGINT)
            started.process.wait(60)


def signed_in(demo: Demo) -> httpx.Client:
    """A browser's session, by the sign-in the demo printed."""
    name, password = re.findall(r"Sign in\s+(\S+)\s+with password\s+(\S+)", demo.said)[-1]
    client = httpx.Client(base_url=f"http://127.0.0.1:{demo.port}", follow_redirects=True, trust_env=False)
    page = client.get("/sign-in")
    hidden = dict(re.findall(r'<input type="hidden" name="(\w+)" value="([^"]*)"', page.text))
    answer = client.post("/sign-in", data={**hidden, "name": name, "password": password})
    assert answer.status_code == 200, answer.text[:300]
    return client


@pytest.mark.timeout(600)
def test_a_demo_shows_rooms_with_live_readings_stops_whole_and_goes_on_where_it_was(demo: Demo, tmp_path: Path) -> None:
    with signed_in(demo) as client:
        rooms = client.get("/api/v1/rooms").json()["items"]
        assert len(rooms) == 2
        channels = client.get("/api/v1/channels").json()["items"]
        tension = next(channel for channel in channels if channel["quantity"] == "tension")
        ask = {"channel": tension["id"], "from": "2020-01-01T00:00:00Z", "to": "2100-01-01T00:00:00Z", "every": 86400}

        def count() -> int:
            return sum(bucket["count"] for bucket in client.get("/api/v1/readings", params=ask).json()["items"])

        before = count()
        assert before > 3 * 288
        wait_until(lambda: count() > before, "a live reading to come in", 60)
        history = count()
    demo.process.send_signal(signal.SIGINT)
    demo.ends(0)
    again = start(tmp_path, demo.port)
    try:
        wait_until(lambda: again.ready() and again.said.count("Sign in") == 2, "the demo to go on", PATIENCE_S)
        with signed_in(again) as client:
            assert sum(b["count"] for b in client.get("/api/v1/readings", params=ask).json()["items"]) >= history
    finally:
        again.process.send_signal(signal.SIGTERM)
        again.ends(0)


@pytest.mark.timeout(400)
def test_a_killed_child_ends_the_demo_with_one_sentence_and_no_orphan(demo: Demo) -> None:
    command = ["pgrep", "-P", str(demo.process.pid), "-f", "wickwatch ingest"]
    children = subprocess.run(command, check=True, capture_output=True, text=True)
    os.kill(int(children.stdout.split()[0]), signal.SIGKILL)
    demo.ends(1)
    last = demo.said.strip().splitlines()[-1]
    assert last.startswith("wickwatch demo: ingest does not answer: it was ended by SIGKILL")
    assert "Traceback" not in demo.said


@pytest.mark.timeout(400)
def test_a_killed_demo_leaves_no_orphan(demo: Demo) -> None:
    demo.process.kill()
    demo.process.wait()
    wait_until(lambda: not running_in(demo.home), "every process of the demo to end", 30)


def test_a_busy_port_is_one_sentence_before_anything_starts(tmp_path: Path) -> None:
    import socket

    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        started = start(tmp_path, taken.getsockname()[1])
        assert started.process.wait(60) == 1
    assert "a port that no other program uses" in started.said
    assert not started.home.exists()


def test_other_options_than_the_demo_was_begun_with_are_refused(tmp_path: Path) -> None:
    home = tmp_path / "state"
    home.mkdir()
    state = {
        "rooms": 12, "days": 21, "seed": 1, "faults": True, "history_end": "2026-11-20T00:00:00+00:00",
        "password": "x", "secret_key": "y", "loaded": True,
    }  # fmt: skip
    (home / "demo.json").write_text(json.dumps(state))
    started = start(tmp_path, free_port())
    assert started.process.wait(60) == 1
    assert "--rooms 12 --days 21 --seed 1" in started.said
    assert "remove that folder to begin anew" in started.said


def test_a_full_disk_is_one_sentence(tmp_path: Path) -> None:
    if os.geteuid() != 0:
        (pytest.fail if os.environ.get("CI") else pytest.skip)("a small disk is mounted, which needs root")
    disk = tmp_path / "disk"
    disk.mkdir()
    subprocess.run(["mount", "-t", "tmpfs", "-o", "size=64m", "tmpfs", str(disk)], check=True)
    try:
        started = start(disk, free_port())
        assert started.process.wait(60) == 1
        assert "MB are needed" in started.said
    finally:
        subprocess.run(["umount", str(disk)], check=True)
