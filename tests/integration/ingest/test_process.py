"""One copy of ingest: its place among the copies, and the numbers it shows."""

from __future__ import annotations

import threading
import urllib.request

import pytest

from tests.integration.ingest.site import found, gateway, pack, rows, subscribed, tension, wait_for
from tests.parts.broker import Broker
from tests.parts.process import free_port, wait_until
from wickwatch import ingest
from wickwatch.errors import RefusedError, UnavailableError
from wickwatch.ingest import process
from wickwatch.settings import Settings
from wickwatch.store.connect import connect


def all_free(url: str) -> None:
    """Return when the server has noticed that the connections before are gone."""
    locks = "SELECT count(*) FROM pg_locks WHERE locktype = 'advisory' AND granted AND database ="
    own = f"{locks} (SELECT oid FROM pg_database WHERE datname = current_database())"
    wait_until(lambda: rows(url, own) == [(0,)], "every place free")


def test_copies_take_the_lowest_free_place(plain_url: str) -> None:
    first, second, third = process.Place(), process.Place(), process.Place()
    with connect(plain_url, "one") as one, connect(plain_url, "two") as two:
        first.hold(one)
        second.hold(two)
        assert (first.name, second.name) == ("wickwatch-ingest-1", "wickwatch-ingest-2")
    all_free(plain_url)
    with connect(plain_url, "three") as three:
        third.hold(three)
        assert third.name == "wickwatch-ingest-1"


def test_a_copy_waits_for_its_place_after_a_lost_connection_and_then_gives_it_up(
    plain_url: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    place, other = process.Place(), process.Place()
    with connect(plain_url, "one") as one:
        place.hold(one)
    all_free(plain_url)
    with connect(plain_url, "other") as taken, connect(plain_url, "again") as again:
        other.hold(taken)
        with pytest.raises(UnavailableError, match="place 1 is still held"):
            place.hold(again)
        taken.close()
        all_free(plain_url)
        place.hold(again)  # it was an old connection of ours
    all_free(plain_url)
    with connect(plain_url, "other") as taken, connect(plain_url, "again") as again:
        other.hold(taken)
        monkeypatch.setattr(process, "PLACE_LOST_S", -1.0)
        with pytest.raises(RefusedError, match="another copy of ingest took place 1"):
            place.hold(again)


def test_numbers_are_shown_to_prometheus_while_it_runs(plain_url: str, broker: Broker) -> None:
    found(plain_url)
    port, stop = free_port(), threading.Event()
    settings = Settings(database_url=plain_url, mqtt_url=broker.url(), secret_key="test")
    thread = threading.Thread(target=ingest.run, args=(settings, stop), kwargs={"metrics_port": port}, daemon=True)
    thread.start()
    with gateway(broker.url("birchwood/gw-01")) as gw:
        subscribed(plain_url)
        gw.publish(pack(tension(1.0), tension(2.0, 10), {"n": "x", "u": "hPa", "v": 1.0}))
        wait_for(plain_url, 2)
        with urllib.request.urlopen(f"http://127.0.0.1:{port}/metrics") as answer:
            lines = answer.read().decode().splitlines()
    stop.set()
    thread.join(20)
    assert not thread.is_alive()
    assert "wickwatch_ingest_connected 1.0" in lines
    assert {line.split("{")[0].split()[0] for line in lines if not line.startswith("#")} >= {
        "wickwatch_ingest_stored_total",
        "wickwatch_ingest_duplicates_total",
        "wickwatch_ingest_conflicts_total",
        "wickwatch_ingest_write_failures_total",
        "wickwatch_ingest_waiting",
        "wickwatch_ingest_lag_seconds",
        "wickwatch_ingest_write_seconds_count",
    }
    with pytest.raises(OSError, match="refused"):
        urllib.request.urlopen(f"http://127.0.0.1:{port}/metrics")
