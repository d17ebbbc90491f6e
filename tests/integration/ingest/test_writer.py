"""The writer holds what the database can't take, and puts aside what it never will."""

from __future__ import annotations

import threading
from collections.abc import Iterator, Sequence
from contextlib import contextmanager

import psycopg
import pytest

from tests.integration.ingest.site import NOW, TOPIC, count, found, pack, refused, rows, tension
from tests.parts.process import wait_until
from wickwatch.ingest.inbox import Inbox
from wickwatch.ingest.metrics import Metrics
from wickwatch.ingest.writer import Writer
from wickwatch.ingest.writing import Packet

#: Whoever waits for a lock in this test's database. The server is shared with tests that run beside.
_WAITS = "FROM pg_stat_activity WHERE datname = current_database() AND wait_event_type = 'Lock'"
WAITING = f"SELECT count(*) {_WAITS}"
CUT = f"SELECT pg_terminate_backend(pid, 5000) {_WAITS}"


@pytest.fixture
def url(database_url: str) -> str:
    found(database_url)
    return database_url


def packet(value: float, number: int) -> Packet:
    return Packet(TOPIC, pack(tension(value, number)), NOW, mid=number, qos=1)


@contextmanager
def writing(url: str, inbox: Inbox, metrics: Metrics | None = None) -> Iterator[list[int]]:
    """A writer in a thread; the list grows by the numbers of the packets it has acknowledged."""
    acknowledged: list[int] = []

    def acknowledge(packets: Sequence[Packet]) -> None:
        acknowledged.extend(packet.mid for packet in packets)

    stop = threading.Event()
    writer = Writer(url, inbox, acknowledge, metrics or Metrics(), lambda conn: None)

    def work() -> None:
        if writer.open(stop):
            writer.run(stop, lambda conn: None)
        writer.close()

    thread = threading.Thread(target=work, daemon=True)
    thread.start()
    try:
        yield acknowledged
    finally:
        stop.set()
        thread.join(20)
        assert not thread.is_alive()


def filled(packets: Sequence[Packet]) -> Inbox:
    inbox = Inbox()
    assert all(inbox.put(each, 0) for each in packets)
    return inbox


def test_a_packet_that_the_database_refuses_is_put_aside_alone(url: str) -> None:
    with psycopg.connect(url) as conn:
        conn.execute("ALTER TABLE reading ADD CHECK (value <> 13)")
    packets = [packet(13.0 if number in (7, 30) else 1.0, number) for number in range(40)]
    with writing(url, filled(packets)) as acknowledged:
        wait_until(lambda: len(acknowledged) == 40, "everything acknowledged", 30)
    assert count(url) == 38
    assert refused(url) == [("internal", 1), ("internal", 1)]
    details = rows(url, "SELECT DISTINCT detail FROM quarantine")
    assert 'violates check constraint "reading_value_check"' in str(details[0][0])


def test_acknowledged_is_only_what_is_committed(url: str) -> None:
    packets = [packet(1.0, number) for number in range(20)]
    with psycopg.connect(url) as other:
        other.execute("LOCK TABLE reading IN EXCLUSIVE MODE")
        with writing(url, filled(packets)) as acknowledged:
            wait_until(lambda: rows(url, WAITING) == [(1,)], "the writer waiting")
            assert acknowledged == []
            other.rollback()
            wait_until(lambda: len(acknowledged) == 20, "everything acknowledged")
            assert count(url) == 20


def test_a_batch_is_tried_again_after_its_connection_was_cut(url: str) -> None:
    metrics = Metrics()
    packets = [packet(1.0, number) for number in range(20)]
    with psycopg.connect(url) as other:
        other.execute("LOCK TABLE reading IN EXCLUSIVE MODE")
        with writing(url, filled(packets), metrics) as acknowledged:
            for _ in range(3):
                wait_until(lambda: rows(url, WAITING) == [(1,)], "the writer waiting")
                rows(url, CUT)
            other.rollback()
            wait_until(lambda: len(acknowledged) == 20, "everything acknowledged")
    assert count(url) == 20
    assert metrics.registry.get_sample_value("wickwatch_ingest_write_failures_total") == 3


def test_metrics_tell_what_became_of_every_reading(url: str) -> None:
    metrics = Metrics()
    packets = [
        packet(1.0, 0),
        packet(1.0, 0),
        packet(2.0, 0),
        packet(1e9, 1),
        Packet("x", b"", NOW, mid=9, qos=1),
    ]
    with writing(url, filled(packets), metrics) as acknowledged:
        wait_until(lambda: len(acknowledged) == 5, "everything acknowledged")

    def value(name: str, **labels: str) -> float | None:
        return metrics.registry.get_sample_value(f"wickwatch_ingest_{name}_total", labels)

    assert (value("stored"), value("duplicates"), value("conflicts")) == (1, 1, 1)
    assert (value("rejected", reason="out-of-range"), value("rejected", reason="topic")) == (1, 1)
    assert metrics.totals == {"stored": 1, "duplicates": 1, "conflicts": 1, "rejected": 2}
