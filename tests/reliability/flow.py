"""Readings that flow from gateways through a broker and ingest into a database, while any of these is killed.

Not here: which is killed when, and what must hold afterwards.
"""

from __future__ import annotations

import threading
import time
from collections import deque
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from subprocess import Popen

import orjson
import psycopg
from paho.mqtt.client import Client
from paho.mqtt.enums import CallbackAPIVersion

from tests.integration.ingest.site import found, ingest_process, rows, subscribed
from tests.parts import broker as broker_part
from tests.parts import databases
from tests.parts.broker import Broker
from tests.parts.postgres import Binaries, Server, running
from tests.parts.process import folder, wait_until
from wickwatch.urls import MQTT_SCHEMES, endpoint

PACK = 20
GATEWAYS = 4

#: What a gateway sends again after its connection broke, as the broker's settings ask of it.
SENT_AGAIN_S = 30.0


def reading(gateway: int, probe: int, step: int) -> float:
    """The value that a probe has at a step; every reading can be told from every other one of its channel."""
    return 50.0 + (gateway * PACK + probe) / 10 + step % 997 / 1000


class Sender:
    """A gateway that publishes a pack of its probes at every step, at a steady pace, until told how many."""

    def __init__(self, broker: Broker, number: int, start: int, steps: int, per_second: float) -> None:
        self._number, self._start, self._steps, self._pause_s = number, start, steps, 1.0 / per_second
        self._topic = f"wickwatch/1/birchwood/gw-{number:02}/senml"
        where = endpoint(broker.url(account(number)), MQTT_SCHEMES)
        self._client = Client(CallbackAPIVersion.VERSION2, client_id=account(number), clean_session=False)
        self._client.username_pw_set(where.username, where.password)
        self._client.reconnect_delay_set(1, 1)
        self._client.max_inflight_messages_set(1000)
        self._client.on_connect = self._on_connect
        self._client.on_publish = self._on_publish
        self._recent: deque[tuple[float, bytes]] = deque()
        self._broken = threading.Event()
        self._connections = 0
        self._unconfirmed = 0
        self._lock = threading.Lock()
        self.step = 0
        self._thread = threading.Thread(target=self._run, daemon=True)
        self._client.connect(where.host, where.port)
        self._client.loop_start()
        self._thread.start()

    @property
    def done(self) -> bool:
        """Whether the broker has confirmed everything."""
        return not self._thread.is_alive() and self._unconfirmed == 0

    def stop(self) -> None:
        """End the connection."""
        self._client.disconnect()
        self._client.loop_stop()

    def _run(self) -> None:
        due = time.monotonic()
        while self.step < self._steps or self._unconfirmed or self._broken.is_set():
            if self._broken.is_set():
                self._broken.clear()
                for _, payload in [*self._recent]:
                    self._publish(payload)
            if self.step < self._steps:
                payload = self._pack(self.step)
                self._recent.append((time.monotonic(), payload))
                self._publish(payload)
                self.step += 1
            while self._recent and self._recent[0][0] < time.monotonic() - SENT_AGAIN_S:
                self._recent.popleft()
            due = max(due + self._pause_s, time.monotonic() - 1.0)
            time.sleep(max(0.0, due - time.monotonic()))

    def _pack(self, step: int) -> bytes:
        device = f"urn:dev:x{self._number}-"
        records: list[dict[str, object]] = [
            {"n": f"{probe}:tension", "v": reading(self._number, probe, step)} for probe in range(PACK)
        ]
        records[0] |= {"bn": device, "bt": self._start + step, "bu": "hPa"}
        return orjson.dumps(records)

    def _publish(self, payload: bytes) -> None:
        with self._lock:
            self._unconfirmed += 1
        self._client.publish(self._topic, payload, 1)

    def _on_publish(self, *_: object) -> None:
        with self._lock:
            self._unconfirmed -= 1

    def _on_connect(self, *_: object) -> None:
        self._connections += 1
        if self._connections > 1:
            self._broken.set()


def account(number: int) -> str:
    """A gateway's account at the broker."""
    return f"birchwood/gw-{number:02}"


@dataclass
class Flow:
    """The parts, each of which may be killed and started again."""

    server: Server
    broker: Broker
    url: str
    log: Path
    ingest: Popen[bytes]
    senders: list[Sender]
    start: int
    steps: int

    @property
    def sent(self) -> int:
        """Readings published so far, confirmed or not."""
        return sum(sender.step for sender in self.senders) * PACK

    @property
    def expected(self) -> int:
        """Readings there will be."""
        return GATEWAYS * self.steps * PACK

    def when_sent(self, share: float) -> None:
        """Return when this share of the readings was published."""
        wait_until(lambda: self.sent >= share * self.expected, f"{share:.0%} of the readings sent", 300)

    def kill_ingest(self) -> None:
        """`kill -9`, and another one in its place."""
        self.ingest.kill()
        self.ingest.wait()
        self.ingest = ingest_process(self.url, self.broker.url(), self.log)

    def end_ingest(self) -> None:
        """The last one."""
        self.ingest.kill()
        self.ingest.wait()

    def kill_broker(self) -> None:
        """`kill -9`, and started again on what it had saved."""
        self.broker.kill()
        self.broker.start()

    def kill_database(self) -> None:
        """`kill -9`, and started again on what it had written."""
        self.server.kill()
        self.server.start()

    def finish(self) -> None:
        """Return when the broker confirmed everything and the database holds as much as it should."""
        wait_until(lambda: all(sender.done for sender in self.senders), "everything confirmed", 300)
        with suppress(TimeoutError):  # what is missing is for the test to tell
            wait_until(lambda: self.stored() >= self.expected, "everything stored", 120, 0.2)

    def stored(self) -> int:
        """Readings in the database; -1 while it is away."""
        try:
            return int(str(rows(self.url, "SELECT count(*) FROM reading")[0][0]))
        except psycopg.OperationalError:
            return -1

    def lost(self) -> int:
        """Readings that are not in the database with their own value."""
        found = {
            (str(name), int(str(at))): float(str(value))
            for name, at, value in rows(
                self.url,
                "SELECT name, extract(epoch FROM at)::bigint, value FROM reading JOIN channel c ON c.id = channel_id",
            )
        }
        return sum(
            found.get((f"urn:dev:x{gateway}-{probe}:tension", self.start + step)) != reading(gateway, probe, step)
            for gateway in range(GATEWAYS)
            for probe in range(PACK)
            for step in range(self.steps)
        )

    def twice(self) -> int:
        """Readings there more than once."""
        statement = "SELECT count(*) - count(DISTINCT (channel_id, at)) FROM reading"
        return int(str(rows(self.url, statement)[0][0]))

    def disputed(self) -> int:
        """Readings that came with two values, and records refused."""
        conflicts = rows(self.url, "SELECT sum(conflicts)::int FROM channel")[0][0]
        refused = rows(self.url, "SELECT count(*) FROM quarantine")[0][0]
        return int(str(conflicts)) + int(str(refused))


@contextmanager
def flowing(binaries: Binaries, readings: int, per_second: float) -> Iterator[Flow]:
    """Start everything of one's own and let about so many readings flow at about this pace."""
    steps = readings // (GATEWAYS * PACK)
    with ExitStack() as stack:
        server = stack.enter_context(running(binaries))
        url = stack.enter_context(databases.migrated(server.url()))
        broker = stack.enter_context(broker_part.running([account(number) for number in range(GATEWAYS)]))
        log = stack.enter_context(folder()) / "ingest.log"
        found(url)
        start = int(time.time()) - steps
        flow = Flow(server, broker, url, log, ingest_process(url, broker.url(), log), [], start, steps)
        stack.callback(flow.end_ingest)
        subscribed(url)
        for number in range(GATEWAYS):
            sender = Sender(broker, number, start, steps, per_second / (GATEWAYS * PACK))
            stack.callback(sender.stop)
            flow.senders.append(sender)
        yield flow
