"""The bounded queue between the network's thread and the writer's.

The network's thread must not wait for long: what stops there stops acknowledgements and keep-alives. So `put` waits for
room as long as it is told, and then refuses; such a packet stays unacknowledged with the broker, which sends it again.
Not here: what packets mean.
"""

from __future__ import annotations

import threading
import time
from collections import deque

from wickwatch.ingest.writing import Packet

#: What may wait in memory. The broker holds everything else.
MAX_PACKETS = 20_000
MAX_BYTES = 64 * 1024 * 1024

#: What is written in one transaction, at most.
BATCH_PACKETS = 1000
BATCH_BYTES = 4 * 1024 * 1024

#: A batch is written when it is full, when nothing came for the first time, or at the latest after the second.
QUIET_S = 0.01
LONGEST_S = 0.2


class Inbox:
    """Packets in the order they came."""

    def __init__(self, max_packets: int = MAX_PACKETS, max_bytes: int = MAX_BYTES) -> None:
        self._packets: deque[Packet] = deque()
        self._bytes = 0
        self._max_packets = max_packets
        self._max_bytes = max_bytes
        self._changed = threading.Condition()

    def __len__(self) -> int:
        return len(self._packets)

    def put(self, packet: Packet, wait_s: float) -> bool:
        """Add a packet; false where there was no room for it within `wait_s`. An empty queue takes any one packet."""

        def fits() -> bool:
            enough = len(self._packets) < self._max_packets and self._bytes + len(packet.payload) <= self._max_bytes
            return enough or not self._packets

        with self._changed:
            if not fits() and not self._changed.wait_for(fits, wait_s):
                return False
            self._packets.append(packet)
            self._bytes += len(packet.payload)
            self._changed.notify_all()
            return True

    def has_room(self) -> bool:
        """Whether at least half of it is free."""
        return len(self._packets) * 2 <= self._max_packets and self._bytes * 2 <= self._max_bytes

    def take(self, wait_s: float) -> list[Packet]:
        """The next batch; empty where nothing came within `wait_s`."""
        with self._changed:
            if not self._packets and not self._changed.wait_for(lambda: bool(self._packets), wait_s):
                return []
            self._settle()
            batch: list[Packet] = []
            size = 0
            while self._packets and len(batch) < BATCH_PACKETS:
                size += len(self._packets[0].payload)
                if batch and size > BATCH_BYTES:
                    break
                batch.append(self._packets.popleft())
            self._bytes -= sum(len(packet.payload) for packet in batch)
            self._changed.notify_all()
            return batch

    def _settle(self) -> None:
        """Wait, with the lock held between arrivals only, until the batch is worth a transaction."""
        latest = time.monotonic() + LONGEST_S
        while len(self._packets) < BATCH_PACKETS and self._bytes < BATCH_BYTES and time.monotonic() < latest:
            if not self._changed.wait(QUIET_S):
                return
