"""An HTTP server that keeps what is posted to it, for webhooks and the heartbeat.

Not here: checking signatures; a test does that with the body's bytes and the headers as they came.
"""

from __future__ import annotations

import json
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any

from tests.parts.process import wait_until


@dataclass(frozen=True)
class Call:
    """One request as it came. Header names are in lower case."""

    method: str
    path: str
    headers: dict[str, str]
    body: bytes

    @property
    def json(self) -> Any:
        """The body as JSON."""
        return json.loads(self.body)


@dataclass
class Receiver:
    """Every request, oldest first, answered with `status` (a test may change it at any time)."""

    port: int = 0
    host: str = "127.0.0.1"
    status: int = 204
    headers: dict[str, str] = field(default_factory=dict)
    calls: list[Call] = field(default_factory=list)

    @property
    def url(self) -> str:
        """The address to call."""
        return f"http://{self.host}:{self.port}/"

    def wait_for(self, count: int, limit_s: float = 15.0) -> list[Call]:
        """The calls, once there are at least `count`."""
        wait_until(lambda: len(self.calls) >= count, f"{count} calls (there are {len(self.calls)})", limit_s)
        return list(self.calls)


@contextmanager
def running() -> Iterator[Receiver]:
    """A receiver of one's own, in a thread."""
    receiver = Receiver()

    class Handler(BaseHTTPRequestHandler):
        def _take(self) -> None:
            length = int(self.headers.get("content-length") or 0)
            body = self.rfile.read(length)
            if len(body) < length:  # whoever sent it went in the middle: no call came
                self.close_connection = True
                return
            headers = {name.lower(): value for name, value in self.headers.items()}
            receiver.calls.append(Call(self.command, self.path, headers, body))
            self.send_response(receiver.status)
            for name, value in receiver.headers.items():
                self.send_header(name, value)
            self.send_header("content-length", "0")
            self.end_headers()

        do_GET = do_POST = do_PUT = do_HEAD = _take

        def log_message(self, format: str, *args: object) -> None:
            """Stay quiet; the calls are kept."""

    server = ThreadingHTTPServer((receiver.host, 0), Handler)
    receiver.port = server.server_port
    thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.05}, daemon=True)
    thread.start()
    try:
        yield receiver
    finally:
        server.shutdown()
        server.server_close()
        thread.join()
