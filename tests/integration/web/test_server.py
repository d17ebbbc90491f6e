"""The server as a process runs it."""

from __future__ import annotations

import socket
import threading

import httpx
import psycopg
import pytest

from tests.parts.process import free_port, wait_until
from wickwatch import web
from wickwatch.errors import RefusedError, UnavailableError
from wickwatch.settings import Settings


def _settings(url: str) -> Settings:
    return Settings(database_url=url, secret_key="only for tests, 32 characters at least")


def test_a_busy_port_ends_in_one_sentence(plain_url: str) -> None:
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        port = other.getsockname()[1]
        with pytest.raises(RefusedError, match=f"port {port} on 127.0.0.1 can't be used: address already in use"):
            web.run(_settings(plain_url), threading.Event(), port=port)


def test_a_database_that_does_not_answer_ends_the_start_in_one_sentence() -> None:
    with pytest.raises(UnavailableError, match="database does not answer"):
        web.run(_settings(f"postgresql://nobody@127.0.0.1:{free_port()}/none"), threading.Event(), port=0)


def test_it_beats_while_it_serves_and_leaves_when_it_is_told_to_stop(plain_url: str) -> None:
    port, stop = free_port(), threading.Event()
    serving = threading.Thread(target=web.run, args=(_settings(plain_url), stop), kwargs={"port": port}, daemon=True)

    def beats() -> int:
        with psycopg.connect(plain_url) as conn:
            row = conn.execute("SELECT count(*) FROM heartbeat WHERE part = 'web' AND healthy").fetchone()
        assert row is not None
        return int(row[0])

    serving.start()
    wait_until(lambda: beats() == 1, "the first heartbeat of web")
    with httpx.Client(base_url=f"http://127.0.0.1:{port}") as client:
        assert client.get("/healthz").status_code == 200
        stop.set()
        serving.join(15)
    assert not serving.is_alive()
    assert beats() == 0
