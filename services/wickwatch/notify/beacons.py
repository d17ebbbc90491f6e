"""The state of each room's alarms on MQTT, retained, for beacons and panels.

A room's topic holds its highest active priority and its open alarms, an empty list when it is quiet. What counts is the
database: a message is made from what stands there, so a lost or doubled notification can't leave a beacon wrong for
longer than one look. Copies of the process publish the same. Not here: when an alarm changes.
"""

from __future__ import annotations

import json
import ssl
import threading
from collections.abc import Mapping, Sequence
from typing import Any
from uuid import UUID

from paho.mqtt.client import Client
from paho.mqtt.enums import CallbackAPIVersion

from wickwatch import log
from wickwatch.alarms import OPEN_TO_PEOPLE, PRIORITIES, Alarm, in_json
from wickwatch.store import advice, alarms
from wickwatch.store.connect import Connection
from wickwatch.urls import Endpoint

KEEPALIVE_S = 30
RECONNECT_S = (1, 30)


class Beacons:
    """One session at the broker; publishes only what changed since it last did."""

    def __init__(self, broker: Endpoint, name: str) -> None:
        self._broker = broker
        self._published: dict[str, bytes] = {}
        self._changed: set[UUID] = set()
        self._afresh = threading.Event()
        self._client = Client(CallbackAPIVersion.VERSION2, client_id=name, clean_session=True)
        self._client.username_pw_set(broker.username, broker.password)
        if broker.tls:
            self._client.tls_set_context(ssl.create_default_context())
        self._client.reconnect_delay_set(*RECONNECT_S)
        self._client.on_connect = self._on_connect
        self._client.on_disconnect = self._on_disconnect

    @property
    def connected(self) -> bool:
        """Whether what is published gets out."""
        return self._client.is_connected()

    def start(self) -> None:
        """Connect in a thread of its own, and again whenever the connection breaks."""
        self._client.connect_async(self._broker.host, self._broker.port, KEEPALIVE_S)
        self._client.loop_start()

    def stop(self) -> None:
        """Say good-bye; what is retained stays."""
        self._client.disconnect()
        self._client.loop_stop()

    def changed(self, facility_id: UUID) -> None:
        """Look at a facility at the next `publish`."""
        self._changed.add(facility_id)

    def publish(self, conn: Connection, *, everything: bool = False) -> None:
        """Publish the rooms of facilities that changed; of all of them if asked, or after a new connection."""
        if not self.connected:
            return
        if self._afresh.is_set():
            self._afresh.clear()
            self._published.clear()
            everything = True
        for facility_id in alarms.facilities(conn) if everything else sorted(self._changed):
            self._publish_facility(conn, facility_id)
        self._changed.clear()

    def _publish_facility(self, conn: Connection, facility_id: UUID) -> None:
        own = advice.own(conn, facility_id)
        for (facility, room), standing in alarms.by_room(conn, facility_id).items():
            # An empty message takes a retained one away (MQTT 3.1.1, 3.3.1.3): the room is no more.
            payload = b"" if standing is None else message(facility, room, standing, own)
            if self._published.get(topic(facility, room)) != payload:
                self._client.publish(topic(facility, room), payload, qos=1, retain=True)
                self._published[topic(facility, room)] = payload

    def _on_connect(self, client: Client, userdata: Any, flags: Any, code: Any, properties: Any) -> None:
        if code.is_failure:
            log.warning("beacons.refused", broker=self._broker.host, reason=code)
            return
        log.event("beacons.up", broker=self._broker.host)
        self._afresh.set()

    def _on_disconnect(self, client: Client, userdata: Any, flags: Any, code: Any, properties: Any) -> None:
        log.event("beacons.down", broker=self._broker.host, reason=code)


def topic(facility: str, room: str) -> str:
    """Where a room's state is retained."""
    return f"wickwatch/1/{facility}/alarms/{room}"


def message(facility: str, room: str, standing: Sequence[Alarm], own: Mapping[str, str]) -> bytes:
    """A room's state. Its priority is the highest of the alarms that ask for somebody; null when none does."""
    active = [alarm.priority for alarm in standing if alarm.state in OPEN_TO_PEOPLE]
    shown = {
        "facility": facility,
        "room": room,
        "priority": min(active, key=PRIORITIES.index, default=None),
        "alarms": [in_json(alarm, facility, room, own) for alarm in standing],
    }
    return json.dumps(shown, ensure_ascii=False, separators=(",", ":")).encode()
