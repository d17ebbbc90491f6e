"""What could not be taken is kept as it came and counted by reason and day."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta

import pytest

from wickwatch.store import quarantine
from wickwatch.store.connect import Connection, connect
from wickwatch.store.quarantine import KEPT_BYTES, KEPT_PER_DAY, Quarantined

NOW = datetime(2026, 11, 20, 23, 59, tzinfo=UTC)
ROW = Quarantined(NOW, None, "wickwatch/1/nowhere/gw-01/senml", b"[\x00\xff", "unit", "record 0: psi", 2)


@pytest.fixture
def conn(database_url: str) -> Iterator[Connection]:
    with connect(database_url, "test") as opened:
        yield opened


def test_a_payload_is_kept_as_it_came(conn: Connection) -> None:
    quarantine.add(conn, [ROW])
    found = conn.execute(
        "SELECT at, facility_id, topic, payload, payload_bytes, reason, detail, records FROM quarantine"
    )
    assert found.fetchone() == (*ROW[:4], 3, *ROW[4:])


def test_a_large_payload_is_cut_and_its_size_told(conn: Connection) -> None:
    quarantine.add(conn, [ROW._replace(payload=bytes(KEPT_BYTES + 1))])
    found = conn.execute("SELECT length(payload), payload_bytes FROM quarantine").fetchone()
    assert found == (KEPT_BYTES, KEPT_BYTES + 1)


def test_any_text_can_be_kept(conn: Connection) -> None:
    quarantine.add(conn, [ROW._replace(topic="a\0b" * 1000, detail="x" * 5000)])
    assert conn.execute("SELECT length(topic), length(detail) FROM quarantine").fetchone() == (1000, 1000)


def test_records_are_counted_by_facility_reason_and_day(conn: Connection) -> None:
    (site,) = conn.execute(
        "INSERT INTO facility (slug, name, zone) VALUES ('birchwood', 'Birchwood House', 'Europe/Oslo') RETURNING id"
    ).fetchone() or (None,)
    later = NOW + timedelta(minutes=2)
    quarantine.add(
        conn, [ROW, ROW, ROW._replace(at=later), ROW._replace(reason="future"), ROW._replace(facility_id=site)]
    )
    quarantine.add(conn, [ROW._replace(records=10)])
    quarantine.add(conn, [])
    counted = conn.execute("SELECT facility_id, reason, day, records FROM quarantine_count").fetchall()
    assert sorted(counted, key=str) == sorted(
        [
            (None, "unit", date(2026, 11, 20), 14),
            (None, "unit", date(2026, 11, 21), 2),
            (None, "future", date(2026, 11, 20), 2),
            (site, "unit", date(2026, 11, 20), 2),
        ],
        key=str,
    )


def test_of_what_comes_by_the_thousand_so_many_a_day_are_kept_and_all_are_counted(conn: Connection) -> None:
    many = ROW._replace(records=KEPT_PER_DAY)
    quarantine.add(conn, [many])
    quarantine.add(conn, [ROW, ROW._replace(reason="future"), ROW._replace(at=NOW + timedelta(days=1))])
    kept = conn.execute("SELECT reason, at::date, records FROM quarantine ORDER BY id").fetchall()
    assert kept == [
        ("unit", NOW.date(), KEPT_PER_DAY),
        ("future", NOW.date(), 2),
        ("unit", NOW.date() + timedelta(days=1), 2),
    ]
    assert conn.execute("SELECT sum(records) FROM quarantine_count").fetchone() == (KEPT_PER_DAY + 6,)


def test_old_rows_go_and_their_counts_stay(conn: Connection) -> None:
    quarantine.add(conn, [ROW, ROW._replace(at=NOW - timedelta(days=40))])
    assert quarantine.forget(conn, NOW - timedelta(days=30)) == 1
    assert conn.execute("SELECT sum(records) FROM quarantine_count").fetchone() == (4,)
