"""The queue between network and writer is bounded, and makes the network wait no longer than it says."""

import threading

from wickwatch.ingest.inbox import BATCH_BYTES, BATCH_PACKETS, Inbox
from wickwatch.ingest.writing import Packet


def packet(payload: bytes = b"[]") -> Packet:
    return Packet("t", payload, 0.0)


def test_packets_leave_in_the_order_they_came() -> None:
    inbox = Inbox()
    for number in range(3):
        inbox.put(packet(bytes([number])), 0)
    assert [each.payload for each in inbox.take(0)] == [b"\0", b"\1", b"\2"]
    assert inbox.take(0) == []


def test_what_does_not_fit_is_refused() -> None:
    inbox = Inbox(max_packets=2, max_bytes=100)
    assert [inbox.put(packet(), 0) for _ in range(3)] == [True, True, False]
    inbox.take(0)
    assert [inbox.put(packet(bytes(60)), 0) for _ in range(2)] == [True, False]


def test_an_empty_inbox_takes_any_one_packet() -> None:
    assert Inbox(max_bytes=10).put(packet(bytes(1000)), 0)


def test_there_is_room_when_half_of_it_is_free() -> None:
    inbox = Inbox(max_packets=4, max_bytes=100)
    for _ in range(2):
        inbox.put(packet(), 0)
    assert inbox.has_room()
    inbox.put(packet(), 0)
    assert not inbox.has_room()


def test_a_batch_is_limited_in_packets_and_in_octets() -> None:
    inbox = Inbox()
    for _ in range(BATCH_PACKETS + 1):
        inbox.put(packet(), 0)
    assert [len(inbox.take(0)), len(inbox.take(0))] == [BATCH_PACKETS, 1]
    for _ in range(3):
        inbox.put(packet(bytes(BATCH_BYTES // 2 + 1)), 0)
    assert [len(inbox.take(0)) for _ in range(3)] == [1, 1, 1]


def test_a_waiting_taker_is_woken_by_the_first_packet() -> None:
    inbox = Inbox()
    got: list[list[Packet]] = []
    taker = threading.Thread(target=lambda: got.append(inbox.take(30)))
    taker.start()
    inbox.put(packet(), 0)
    taker.join(10)
    assert got == [[packet()]]


def test_a_waiting_giver_goes_on_when_there_is_room() -> None:
    inbox = Inbox(max_packets=1)
    inbox.put(packet(b"1"), 0)
    given: list[bool] = []
    giver = threading.Thread(target=lambda: given.append(inbox.put(packet(b"2"), 30)))
    giver.start()
    assert [each.payload for each in inbox.take(0)] == [b"1"]
    giver.join(10)
    assert given == [True]
    assert [each.payload for each in inbox.take(0)] == [b"2"]
