"""Readings from a real broker into a real database: acknowledged after the commit, none lost, none twice."""

from __future__ import annotations

from pathlib import Path

import cbor2
import orjson
import psycopg
import pytest

from tests.integration.ingest.site import (
    DEVICE,
    NOW,
    TOPIC,
    Gateway,
    count,
    found,
    gateway,
    ingesting,
    pack,
    readings,
    refused,
    rows,
    subscribed,
    tension,
    two_copies,
    wait_for,
)
from tests.parts.broker import Broker
from tests.parts.process import wait_until
from wickwatch.ingest import session as session_module
from wickwatch.ingest.inbox import Inbox
from wickwatch.ingest.session import Session
from wickwatch.urls import MQTT_SCHEMES, endpoint

GW1, GW2 = "birchwood/gw-01", "birchwood/gw-02"
TENSION = f"{DEVICE}:tension"


@pytest.fixture
def url(timescale_url: str) -> str:
    found(timescale_url)
    return timescale_url


def test_the_contracts_own_example_is_stored_and_its_channels_are_registered(database_url: str, broker: Broker) -> None:
    found(database_url)
    example = orjson.dumps(
        [
            {"bver": 26, "bn": f"{DEVICE}:", "bt": NOW, "n": "tension", "u": "hPa", "v": 103.5},
            {"n": "battery", "u": "%EL", "v": 88},
        ]
    )
    with ingesting(database_url, broker.url()), gateway(broker.url(GW1)) as gw:
        subscribed(database_url)
        gw.publish(example)
        wait_for(database_url, 2)
    assert readings(database_url) == [(f"{DEVICE}:battery", 0, 88.0), (TENSION, 0, 103.5)]
    assert rows(database_url, "SELECT slug, declared, heard_at IS NOT NULL FROM gateway") == [("gw-01", False, True)]
    assert rows(database_url, "SELECT count(*) FROM assignment") == [(0,)]
    assert rows(database_url, "SELECT count(*) > 0 FROM rollup_due") == [(True,)]
    assert refused(database_url) == []


def test_cbor_is_taken_as_json_is(url: str, broker: Broker) -> None:
    entries = [{-2: f"{DEVICE}:", -3: NOW, -4: "hPa", 0: "tension", 2: 103.5}, {0: "tension", 2: 104.5, 6: -10}]
    with ingesting(url, broker.url()), gateway(broker.url(GW1)) as gw:
        subscribed(url)
        gw.publish(cbor2.dumps(entries), TOPIC + "-cbor")
        wait_for(url, 2)
    assert readings(url) == [(TENSION, 0, 103.5), (TENSION, 10, 104.5)]


def test_what_comes_while_ingest_is_away_waits_at_the_broker(url: str, broker: Broker) -> None:
    with ingesting(url, broker.url()):
        subscribed(url)
    with gateway(broker.url(GW1)) as gw:
        for number in range(200):
            gw.publish(pack(tension(100.0 + number, number)))
        gw.confirmed()
    assert count(url) == 0
    with ingesting(url, broker.url()):
        wait_for(url, 200)
    assert len(readings(url)) == 200


def test_late_and_repeated_readings_are_stored_once_in_whatever_order(url: str, broker: Broker) -> None:
    with ingesting(url, broker.url()), gateway(broker.url(GW1)) as gw:
        subscribed(url)
        for ago in (30, 10, 30, 20, 0, 10, 30):
            gw.publish(pack(tension(100.0 + ago, ago)))
        gw.publish(pack(tension(1.0, 20)))  # another value for a time that is there
        gw.confirmed()
        wait_until(lambda: rows(url, "SELECT sum(conflicts) FROM channel") == [(1,)], "the conflict counted")
    assert readings(url) == [(TENSION, ago, 100.0 + ago) for ago in (0, 10, 20, 30)]


def test_nothing_is_acknowledged_while_the_database_is_away(url: str, broker: Broker) -> None:
    """The database refuses connections; what came meanwhile is stored when it is back, by whoever is there then."""
    name = url.rsplit("/", 1)[1]
    server = url.rsplit("/", 1)[0] + "/postgres"
    with ingesting(url, broker.url()), gateway(broker.url(GW1)) as gw:
        subscribed(url)
        gw.publish(pack(tension(1.0)))
        wait_for(url, 1)
        _allow_connections(server, name, allow=False)
        for number in range(50):
            gw.publish(pack(tension(2.0, 1 + number)))
        gw.confirmed()
    # This copy ended without the database: another one gets what it held.
    _allow_connections(server, name, allow=True)
    assert count(url) == 1
    with ingesting(url, broker.url()):
        wait_for(url, 51)


def test_ingest_goes_on_by_itself_when_the_database_comes_back(url: str, broker: Broker) -> None:
    name = url.rsplit("/", 1)[1]
    server = url.rsplit("/", 1)[0] + "/postgres"
    with ingesting(url, broker.url()), gateway(broker.url(GW1)) as gw:
        subscribed(url)
        _allow_connections(server, name, allow=False)
        gw.publish(pack(tension(1.0)))
        gw.confirmed()
        _allow_connections(server, name, allow=True)
        wait_for(url, 1)


def test_ingest_waits_for_a_database_that_is_not_there_yet(timescale_url: str, broker: Broker) -> None:
    name = timescale_url.rsplit("/", 1)[1]
    server = timescale_url.rsplit("/", 1)[0] + "/postgres"
    _allow_connections(server, name, allow=False)
    with ingesting(timescale_url, broker.url()), gateway(broker.url(GW1)) as gw:
        _allow_connections(server, name, allow=True)
        found(timescale_url)
        subscribed(timescale_url)
        gw.publish(pack(tension(1.0)))
        wait_for(timescale_url, 1)


def test_ingest_goes_on_when_the_broker_was_killed_and_came_back(url: str, broker: Broker) -> None:
    with ingesting(url, broker.url()), gateway(broker.url(GW1)) as gw:
        subscribed(url)
        gw.publish(pack(tension(1.0)))
        wait_for(url, 1)
        broker.save()  # a session younger than the broker's last save would be gone with it
        broker.kill()
        for number in range(20):
            gw.publish(pack(tension(2.0, 1 + number)))
        broker.start()
        gw.confirmed()
        wait_for(url, 21)


def test_two_copies_store_every_reading_once(url: str, broker: Broker, tmp_path: Path) -> None:
    with two_copies(url, broker.url(), tmp_path / "log"), gateway(broker.url(GW1)) as gw:
        for number in range(300):
            gw.publish(pack(*(tension(100.0, number * 10 + step) for step in range(10))))
        gw.confirmed()
        wait_for(url, 3000)
    assert len(readings(url)) == 3000
    assert rows(url, "SELECT count(*) FROM quarantine") == [(0,)]
    assert rows(url, "SELECT sum(conflicts) FROM channel") == [(0,)]


def test_copies_that_share_divide_the_packs(url: str, broker: Broker, tmp_path: Path) -> None:
    with two_copies(url, broker.url(), tmp_path / "log", "--share"), gateway(broker.url(GW1)) as gw:
        for number in range(100):
            gw.publish(pack(tension(100.0, number)))
        wait_for(url, 100)
    assert len(readings(url)) == 100


def test_a_device_heard_through_another_gateway_moves_and_keeps_its_channel(url: str, broker: Broker) -> None:
    via = "SELECT g.slug FROM device d JOIN gateway g ON g.id = d.gateway_id"
    with (
        ingesting(url, broker.url()),
        gateway(broker.url(GW1), "one") as first,
        gateway(broker.url(GW2), "two") as second,
    ):
        subscribed(url)
        for ago, gw, slug in ((20, first, "gw-01"), (10, second, "gw-02"), (0, first, "gw-01")):
            gw.publish(pack(tension(1.0, ago)), f"wickwatch/1/birchwood/{slug}/senml")
            wait_until(lambda slug=slug: rows(url, via) == [(slug,)], f"the device at {slug}")  # type: ignore[misc]
        wait_for(url, 3)
    assert rows(url, "SELECT count(*) FROM channel") == [(1,)]


def test_a_gateway_that_lies_about_itself_is_refused_by_the_broker(url: str, broker: Broker) -> None:
    with ingesting(url, broker.url()), gateway(broker.url(GW1)) as gw:
        subscribed(url)
        for topic in (
            "wickwatch/1/birchwood/gw-02/senml",
            "wickwatch/1/elmfield/gw-01/senml",
            "wickwatch/1/x/y/status",
        ):
            gw.publish(pack(tension(666.0)), topic)
        gw.publish(pack(tension(1.0)))  # after them, by the same way
        wait_for(url, 1)
        assert gw.connections == 1  # so that what it may publish never waits for what it may not
    assert readings(url) == [(TENSION, 0, 1.0)]
    assert refused(url) == []
    assert rows(url, "SELECT slug FROM gateway") == [("gw-01",)]


def test_a_gateways_birth_and_last_will_are_noted(url: str, broker: Broker) -> None:
    status = "wickwatch/1/birchwood/gw-01/status"
    gw = Gateway(broker.url(GW1), will=status)
    gw.publish(b"online", status, retain=True)
    gw.confirmed()
    with ingesting(url, broker.url()):  # it comes later and is told what was retained
        wait_until(lambda: rows(url, "SELECT status FROM gateway") == [("online",)], "birth noted")
        gw.vanish()
        wait_until(lambda: rows(url, "SELECT status FROM gateway") == [("offline",)], "will noted")
    assert rows(url, "SELECT status_at IS NOT NULL, heard_at IS NULL FROM gateway") == [(True, True)]


def test_bad_packets_over_the_broker_do_not_stop_the_good_ones(url: str, broker: Broker) -> None:
    with ingesting(url, broker.url()), gateway(broker.url(GW1)) as gw:
        subscribed(url)
        for payload in (b"", b"{", b"[[[", pack(tension(1e9)), b" " * (1024 * 1024 + 1), b"[null]", b"\xff"):
            gw.publish(payload)
        gw.publish(pack({"n": "tension", "u": "psi", "v": 1.0}, tension(5.0)))
        gw.confirmed()
        wait_for(url, 1)
        wait_until(lambda: len(refused(url)) == 8, "eight rows in quarantine")
    reasons = ["not-json", "not-json", "not-json", "not-json", "not-senml", "out-of-range", "too-large", "unit"]
    assert sorted(refused(url)) == [(reason, 1) for reason in reasons]


def test_what_does_not_fit_in_memory_is_fetched_again_when_there_is_room(
    broker: Broker, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(session_module, "ROOM_S", 0.1)
    inbox = Inbox(max_packets=10)
    session = Session(endpoint(broker.url(), MQTT_SCHEMES), inbox, lambda up: None)
    session.start("small-copy")
    wait_until(lambda: session.connected, "a session")
    seen: set[bytes] = set()
    with gateway(broker.url(GW1)) as gw:
        for number in range(35):
            gw.publish(str(number).encode())
        gw.confirmed()

        def all_seen() -> bool:
            packets = inbox.take(0)
            seen.update(packet.payload for packet in packets)
            session.acknowledge(packets)
            session.fetch_left_out()
            return len(seen) == 35

        wait_until(all_seen, "every packet seen", 30)
    session.stop()


def test_an_acknowledgement_never_reaches_a_later_connection(broker: Broker) -> None:
    """Packets of a connection that broke come again, even if they are acknowledged meanwhile."""
    inbox = Inbox()
    session = Session(endpoint(broker.url(), MQTT_SCHEMES), inbox, lambda up: None)
    session.start("copy")
    wait_until(lambda: session.connected, "a session")
    with gateway(broker.url(GW1)) as gw:
        gw.publish(b"1")
        first = inbox.take(10)
        assert [packet.payload for packet in first] == [b"1"]
        broker.stop()
        wait_until(lambda: not session.connected, "the connection broken")
        broker.start()
        wait_until(lambda: session.connected, "a new connection")
        session.acknowledge(first)
        again = inbox.take(10)
        assert [(packet.payload, packet.repeated) for packet in again] == [(b"1", True)]
        session.acknowledge(again)
    session.stop()


def test_a_batch_that_waits_in_the_database_keeps_the_session_and_loses_nothing(url: str, broker: Broker) -> None:
    with ingesting(url, broker.url()), gateway(broker.url(GW1)) as gw:
        subscribed(url)
        gw.publish(pack(tension(1.0)))
        wait_for(url, 1)
        with psycopg.connect(url) as other:
            other.execute("LOCK TABLE reading IN EXCLUSIVE MODE")
            for number in range(500):
                gw.publish(pack(tension(1.0, 1 + number)))
            gw.confirmed()
        wait_for(url, 501)
    assert rows(url, "SELECT sum(conflicts) FROM channel") == [(0,)]


def test_a_heartbeat_tells_that_ingest_lives_and_a_clean_stop_that_it_left(url: str, broker: Broker) -> None:
    with ingesting(url, broker.url()):
        subscribed(url)
    assert rows(url, "SELECT count(*) FROM heartbeat") == [(0,)]


def _allow_connections(server: str, name: str, *, allow: bool) -> None:
    """Open a database to connections, or close it and end those there are."""
    with psycopg.connect(server, autocommit=True) as conn:
        conn.execute(f"ALTER DATABASE {name} ALLOW_CONNECTIONS {'true' if allow else 'false'}")  # type: ignore[arg-type]
        if not allow:
            conn.execute("SELECT pg_terminate_backend(pid, 5000) FROM pg_stat_activity WHERE datname = %s", (name,))
