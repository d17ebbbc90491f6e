"""The session at the broker: persistent, QoS 1, acknowledged by hand.

The client's thread only hands packets over. MQTT 3.1.1, since every broker speaks it; how much may be on its way
unacknowledged is the broker's setting there, and the inbox's bounds hold whatever it is. While the inbox is full the
thread waits a moment, so that a backlog comes no faster than it is written; if nothing is written at all, it leaves
packets out instead, and they are fetched later. Not here: what packets mean.

An acknowledgement counts in the connection that brought the packet and in no later one, where its number may stand for
another packet. So each packet knows its connection, and one from a connection that broke is written but not
acknowledged: the broker sends it again, and it is found to be there.
"""

from __future__ import annotations

import ssl
import threading
import time
from collections.abc import Callable, Sequence
from typing import Any

from paho.mqtt.client import Client, MQTTMessage
from paho.mqtt.enums import CallbackAPIVersion

from wickwatch import log
from wickwatch.ingest.inbox import Inbox
from wickwatch.ingest.topics import PACK_FILTERS, STATUS_FILTER
from wickwatch.ingest.writing import Packet
from wickwatch.urls import Endpoint

KEEPALIVE_S = 30
RECONNECT_S = (1, 30)

#: How long the client's thread waits for room: several batches, and well below the keep-alive.
ROOM_S = 5.0


class Session:
    """One copy's session, from `start` until `stop`."""

    def __init__(
        self, broker: Endpoint, inbox: Inbox, on_change: Callable[[bool], None], group: str | None = None
    ) -> None:
        """`on_change` hears when the session comes up and goes down.

        With a `group`, copies of the same group share the packs between them (MQTT 5, 4.8.2).
        """
        self._broker = broker
        self._inbox = inbox
        self._on_change = on_change
        self._filters = [f"$share/{group}/{each}" if group else each for each in PACK_FILTERS] + [STATUS_FILTER]
        self._client: Client | None = None
        self._lock = threading.Lock()
        self._connection = 0  # counts connections; packets are acknowledged in their own, while `_up`
        self._up = False
        self._subscribed = False
        self._left_out = False

    @property
    def connected(self) -> bool:
        """Whether packets can come: the broker took the subscriptions, so that nothing published now passes by."""
        return self._subscribed

    def start(self, name: str) -> None:
        """Connect in a thread of its own, and again whenever the connection breaks.

        What the broker keeps is kept under `name`.
        """
        self._client = self._make_client(name)
        self._connect()

    def stop(self) -> None:
        """Send what is acknowledged, say good-bye and end the thread; the broker keeps what is not."""
        if self._client is not None:
            self._client.disconnect()
            self._client.loop_stop()

    def acknowledge(self, packets: Sequence[Packet]) -> None:
        """Tell the broker that these are safe."""
        with self._lock:
            if self._up and self._client is not None:
                for packet in packets:
                    if packet.qos and packet.connection == self._connection:
                        self._client.ack(packet.mid, packet.qos)

    def fetch_left_out(self) -> None:
        """Have the broker send again what did not fit, once there is room: it does so at a new connection."""
        if self._left_out and self._inbox.has_room():
            self._left_out = False
            log.event("session.refetch")
            self.stop()
            self._connect()

    def _connect(self) -> None:
        if self._client is not None:
            self._client.connect_async(self._broker.host, self._broker.port, KEEPALIVE_S)
            self._client.loop_start()

    def _make_client(self, name: str) -> Client:
        client = Client(CallbackAPIVersion.VERSION2, client_id=name, clean_session=False, manual_ack=True)
        client.username_pw_set(self._broker.username, self._broker.password)
        if self._broker.tls:
            client.tls_set_context(ssl.create_default_context())
        client.reconnect_delay_set(*RECONNECT_S)
        client.on_connect = self._on_connect
        client.on_subscribe = self._on_subscribe
        client.on_disconnect = self._on_disconnect
        client.on_message = self._on_message
        return client

    def _on_connect(self, client: Client, userdata: Any, flags: Any, code: Any, properties: Any) -> None:
        if code.is_failure:
            log.warning("session.refused", broker=self._broker.host, reason=code)
            return
        with self._lock:
            self._connection += 1
            self._up = True
        client.subscribe([(each, 1) for each in self._filters])
        log.event("session.up", broker=self._broker.host, resumed=flags.session_present)

    def _on_subscribe(self, client: Client, userdata: Any, mid: Any, codes: Any, properties: Any) -> None:
        refused = [each for each, code in zip(self._filters, codes, strict=False) if code.is_failure]
        if refused:
            log.warning("session.subscription-refused", broker=self._broker.host, topics=" ".join(refused))
            return
        self._subscribed = True
        self._on_change(True)

    def _on_disconnect(self, client: Client, userdata: Any, flags: Any, code: Any, properties: Any) -> None:
        with self._lock:
            self._up = self._subscribed = False
        log.event("session.down", broker=self._broker.host, reason=code)
        self._on_change(False)

    def _on_message(self, client: Client, userdata: Any, message: MQTTMessage) -> None:
        try:
            topic = message.topic
        except UnicodeDecodeError:  # brokers refuse these; if one does not, quarantine shall have it
            topic = "(a topic that is not UTF-8)"
        packet = Packet(
            topic, bytes(message.payload), time.time(), message.mid, message.qos, message.dup, self._connection
        )
        if not self._inbox.put(packet, 0.0 if self._left_out else ROOM_S):
            self._left_out = True
