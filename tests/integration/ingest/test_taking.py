"""A pack over HTTP is taken by the same rules as one over the broker."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime

import cbor2
import pytest

from tests.integration.ingest.site import DEVICE, NOW, TOPIC, found, pack, tension
from wickwatch.errors import InputError
from wickwatch.ingest import Taken, take
from wickwatch.store.connect import Connection, connect

MOMENT = datetime.fromtimestamp(NOW, UTC)
JSON, CBOR = "application/senml+json", "application/senml+cbor"


@pytest.fixture
def conn(database_url: str) -> Iterator[Connection]:
    found(database_url)
    with connect(database_url, "test") as opened:
        yield opened


def test_a_pack_is_stored_and_what_is_wrong_with_it_told(conn: Connection) -> None:
    payload = pack(tension(1.0), {"n": "tension", "u": "psi", "v": 1.0}, tension(2.0, 10), tension(1.0))
    taken = take(conn, "birchwood", "gw-01", payload, JSON, MOMENT)
    assert (taken.stored, taken.duplicates, taken.conflicts) == (2, 1, 0)
    ((reason, detail, records),) = taken.rejected
    assert (reason, records) == ("unit", 1)
    assert detail == "record 1: tension in 'psi'; taken are hPa, Pa, mbar, kPa, cbar"
    assert conn.execute("SELECT topic FROM quarantine").fetchall() == [(TOPIC,)]


@pytest.mark.parametrize("content_type", [JSON, JSON.upper(), f"{JSON}; charset=utf-8"])
def test_a_media_type_may_be_written_in_any_case_and_carry_parameters(conn: Connection, content_type: str) -> None:
    assert take(conn, "birchwood", "gw-01", pack(tension(1.0)), content_type, MOMENT) == Taken(1, 0, 0, ())


def test_cbor_is_taken_too(conn: Connection) -> None:
    payload = cbor2.dumps([{0: f"{DEVICE}:tension", 1: "hPa", 2: 1.0, 6: NOW}])
    assert take(conn, "birchwood", "gw-01", payload, CBOR, MOMENT) == Taken(1, 0, 0, ())


@pytest.mark.parametrize("content_type", ["", "application/json", "text/plain"])
def test_another_media_type_is_refused(conn: Connection, content_type: str) -> None:
    with pytest.raises(InputError, match=r"accepted: application/senml\+json or application/senml\+cbor"):
        take(conn, "birchwood", "gw-01", pack(tension(1.0)), content_type, MOMENT)


@pytest.mark.parametrize(
    ("facility", "gateway", "payload", "reason"),
    [
        ("nowhere", "gw-01", pack(tension(1.0)), "unknown-facility"),
        ("birchwood", "GW/01", pack(tension(1.0)), "topic"),
        ("birchwood", "gw-01", b"{", "not-json"),
    ],
    ids=["facility", "gateway", "payload"],
)
def test_a_pack_refused_as_a_whole_is_told_and_quarantined(
    conn: Connection, facility: str, gateway: str, payload: bytes, reason: str
) -> None:
    taken = take(conn, facility, gateway, payload, JSON, MOMENT)
    assert taken.stored == 0
    assert [one.reason for one in taken.rejected] == [reason]
    assert conn.execute("SELECT reason FROM quarantine").fetchall() == [(reason,)]


def test_all_of_it_is_the_callers_transaction(conn: Connection) -> None:
    conn.commit()
    take(conn, "birchwood", "gw-01", pack(tension(1.0), {"n": "x", "v": 1}), JSON, MOMENT)
    conn.rollback()
    for table in ("reading", "quarantine", "channel", "gateway"):
        assert conn.execute(f"SELECT count(*) FROM {table}").fetchone() == (0,)  # type: ignore[call-overload]
