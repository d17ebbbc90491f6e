"""`wickwatch demo`, as somebody who has just cloned the repository meets it."""

from __future__ import annotations

import json
import os
import re
import signal
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
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


def start(folder: Path, port: int) -> Demo:
    home = folder / "state"
    (folder / "said.txt").unlink(missing_ok=True)
    kept = {name: value for name, value in os.environ.items() if not name.startswith("WICKWATCH_")}
    command = [sys.executable, "-m", "wickwatch", "demo", "--rooms", "2", "--days", "3", "--port", str(port)]
    with (folder / "said.txt").open("wb") as out:
        process = subprocess.Popen(command, stdout=out, stderr=out, env=kept | {"WICKWATCH_HOME": str(home)})
    return Demo(process, home, port)


@contextmanager
def started(folder: Path, port: int) -> Iterator[Demo]:
    """A demo that has said where it is; ended at the latest when the block does."""
    demo = start(folder, port)
    try:
        wait_until(demo.ready, "the demo to be ready", PATIENCE_S)
        yield demo
    finally:
        if demo.process.poll() is None:
            demo.process.send_signal(signal.SIGTERM)
            demo.process.wait(60)


@contextmanager
def signed_in(demo: Demo) -> Iterator[httpx.Client]:
    """A browser's session, by the sign-in the demo printed."""
    name, password = re.findall(r"Sign in\s+(\S+)\s+with password\s+(\S+)", demo.said)[-1]
    with httpx.Client(base_url=f"http://127.0.0.1:{demo.port}", follow_redirects=True, trust_env=False) as client:
        page = client.get("/sign-in")
        hidden = dict(re.findall(r'<input type="hidden" name="(\w+)" value="([^"]*)"', page.text))
        form = {**hidden, "name": name, "password": password}
        answer = client.post("/sign-in", data=form, headers={"Origin": f"http://127.0.0.1:{demo.port}"})
        assert answer.status_code == 200, answer.text[:300]
        yield client


def stored(client: httpx.Client, channel: str) -> int:
    """Readings of a channel."""
    ask = {"channel": channel, "from": "2020-01-01T00:00:00Z", "to": "2100-01-01T00:00:00Z", "every": 86400}
    return sum(bucket["count"] for bucket in client.get("/api/v1/readings", params=ask).json()["items"])


@pytest.mark.timeout(900)
def test_a_demo_shows_live_rooms_ends_whole_however_it_ends_and_goes_on_where_it_was(tmp_path: Path) -> None:
    port = free_port()
    with started(tmp_path, port) as demo:
        with signed_in(demo) as client:
            assert len(client.get("/api/v1/rooms").json()["items"]) == 2
            channels = client.get("/api/v1/channels").json()["items"]
            tension = next(channel["id"] for channel in channels if channel["quantity"] == "tension")
            history = stored(client, tension)
            assert history > 2 * 288
            wait_until(lambda: stored(client, tension) > history, "a live reading to come in", 60)
            history = stored(client, tension)
        demo.process.send_signal(signal.SIGINT)
        demo.ends(0)
    with started(tmp_path, port) as demo:
        with signed_in(demo) as client:
            assert stored(client, tension) >= history
        command = ["pgrep", "-P", str(demo.process.pid), "-f", "wickwatch ingest"]
        children = subprocess.run(command, check=True, capture_output=True, text=True)
        os.kill(int(children.stdout.split()[0]), signal.SIGKILL)
        demo.ends(1)
        assert "Traceback" not in demo.said
        last = demo.said.strip().splitlines()[-1]
        assert last.startswith("wickwatch demo: ingest does not answer: it was ended by SIGKILL")
    with started(tmp_path, port) as demo:
        demo.process.kill()
        demo.process.wait()
        wait_until(lambda: not running_in(demo.home), "every process of a killed demo to end", 30)


def test_a_busy_port_is_one_sentence_before_anything_starts(tmp_path: Path) -> None:
    import socket

    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        demo = start(tmp_path, taken.getsockname()[1])
        assert demo.process.wait(60) == 1
    assert "a port that no other program uses" in demo.said
    assert not demo.home.exists()


def test_other_options_than_the_demo_was_begun_with_are_refused(tmp_path: Path) -> None:
    home = tmp_path / "state"
    home.mkdir()
    state = {
        "rooms": 12, "days": 21, "seed": 1, "faults": True, "history_end": "2026-11-20T00:00:00+00:00",
        "password": "x", "secret_key": "y", "loaded": True,
    }  # fmt: skip
    (home / "demo.json").write_text(json.dumps(state))
    demo = start(tmp_path, free_port())
    assert demo.process.wait(60) == 1
    assert "--rooms 12 --days 21 --seed 1" in demo.said
    assert "remove that folder to begin anew" in demo.said


def test_a_full_disk_is_one_sentence(tmp_path: Path) -> None:
    if os.geteuid() != 0:
        (pytest.fail if os.environ.get("CI") else pytest.skip)("a small disk is mounted, which needs root")
    disk = tmp_path / "disk"
    disk.mkdir()
    subprocess.run(["mount", "-t", "tmpfs", "-o", "size=64m", "tmpfs", str(disk)], check=True)
    try:
        demo = start(disk, free_port())
        assert demo.process.wait(60) == 1
        assert "MB are needed" in demo.said
    finally:
        subprocess.run(["umount", str(disk)], check=True)
