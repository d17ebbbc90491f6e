"""Bad input, each with its reason, and none of it loses a good reading.

Written to the database without a broker; how packets come is `test_session`'s matter.
"""

from __future__ import annotations

import math
from collections.abc import Iterator

import cbor2
import orjson
import pytest

from tests.integration.ingest.site import DEVICE, NOW, TOPIC, found, pack, tension
from wickwatch.ingest.heard import Directory
from wickwatch.ingest.reasons import REASONS
from wickwatch.ingest.writing import Outcome, Packet, write_batch
from wickwatch.store.connect import Connection, connect

GOOD = pack(tension(100.0))
CBOR_TOPIC = TOPIC + "-cbor"


@pytest.fixture
def conn(database_url: str) -> Iterator[Connection]:
    found(database_url)
    with connect(database_url, "test") as opened:
        yield opened


def written(conn: Connection, *packets: tuple[str, bytes]) -> Outcome:
    return write_batch(conn, Directory(whole=True), [Packet(topic, payload, NOW) for topic, payload in packets])


def told(outcome: Outcome) -> list[tuple[str, int]]:
    return [(row.reason, row.records) for row in outcome.refused]


def record(name: str = "tension", unit: str = "hPa", value: object = 1.0, **more: object) -> dict[str, object]:
    return {"n": name, "u": unit, "v": value, **more}


# Records of a pack that holds a good one before and a good one after them.
BAD_RECORDS = [
    ("name", record(" tension")),
    ("name", record("x" * 10_000 + ":tension")),
    ("quantity", record("pressure")),
    ("quantity", record("x" * 10_000)),
    ("unit", record(unit="psi")),
    ("unit", record(unit="Cel")),
    ("unit", {"n": "tension", "v": 1.0}),
    ("unit", record(unit="x" * 10_000)),
    ("no-full-scale", record("level", "/", 0.5)),
    ("out-of-range", record(value=1e6)),
    ("out-of-range", record(value=-1e300)),
    ("not-finite", record(value=1e308, u="kPa")),
    ("future", record(t=301)),
    ("future", record(t=1e15)),
    ("too-old", record(t=-401 * 86400)),
    ("not-senml", record(value="1.0")),
    ("not-senml", record(value=None)),
    ("not-senml", record(value=[1])),
    ("not-senml", record(t="now")),
    ("not-senml", record(x_=1)),
    ("not-senml", {"n": "tension", "u": "hPa"}),
    ("not-senml", record(vs="x")),
    ("not-finite", {"n": "tension", "u": "hPa", "vs": "wet"}),
    ("not-finite", {"n": "tension", "u": "hPa", "vb": True}),
    ("not-senml", "a string"),
    ("not-senml", None),
    ("not-senml", []),
]


def test_a_bad_record_is_quarantined_and_the_good_ones_beside_it_are_stored(
    conn: Connection, subtests: pytest.Subtests
) -> None:
    for reason, bad in BAD_RECORDS:
        with subtests.test(reason, bad=bad), conn.transaction(force_rollback=True):
            payload = orjson.dumps([{"bn": f"{DEVICE}:", "bt": NOW, **tension(1.0)}, bad, tension(2.0, 10)])
            outcome = written(conn, (TOPIC, payload))
            assert told(outcome) == [(reason, 1)]
            assert outcome.refused[0].detail.startswith("record 1: ")
            assert outcome.written.stored == 2
            row = conn.execute("SELECT topic, payload, reason, extract(epoch FROM at)::float FROM quarantine")
            assert row.fetchone() == (TOPIC, payload[: 64 * 1024], reason, NOW)
            assert conn.execute("SELECT reason, records FROM quarantine_count").fetchall() == [(reason, 1)]


def test_numbers_that_are_not_finite_in_cbor_are_quarantined(conn: Connection, subtests: pytest.Subtests) -> None:
    for value in (math.nan, math.inf, -math.inf, 10**400):
        with subtests.test(str(value)[:5]), conn.transaction(force_rollback=True):
            entries = [{-2: f"{DEVICE}:", -3: NOW, -4: "hPa", 0: "tension", 2: value}, {0: "tension", 2: 1.0, 6: -10}]
            outcome = written(conn, (CBOR_TOPIC, cbor2.dumps(entries)))
            assert told(outcome) == [("not-finite", 1)]
            assert outcome.written.stored == 1


def test_nan_in_json_is_not_json(conn: Connection) -> None:
    outcome = written(conn, (TOPIC, b'[{"n":"a:tension","u":"hPa","v":NaN}]'), (TOPIC, GOOD))
    assert told(outcome) == [("not-json", 1)]
    assert outcome.written.stored == 1


# Whole packets, each between two good ones.
BAD_PACKETS = [
    ("not-json", TOPIC, b""),
    ("not-json", TOPIC, b"\x00\xff\xfe"),
    ("not-json", TOPIC, GOOD[:-1]),
    ("not-json", TOPIC, cbor2.dumps([])),
    ("not-json", TOPIC, b"[" * 100_000),
    ("not-cbor", CBOR_TOPIC, b""),
    ("not-cbor", CBOR_TOPIC, GOOD),
    ("not-cbor", CBOR_TOPIC, cbor2.dumps([{}])[:-1] + b"\xff"),
    ("not-senml", TOPIC, b'{"n":"a:tension","v":1}'),
    ("not-senml", TOPIC, b"17"),
    ("not-senml", CBOR_TOPIC, cbor2.dumps("tension")),
    ("version", TOPIC, b'[{"bver":11,"n":"a:tension","u":"hPa","v":1}]'),
    ("too-large", TOPIC, b" " * (1024 * 1024 + 1)),
    ("unknown-facility", "wickwatch/1/nowhere/gw-01/senml", GOOD),
    ("topic", "wickwatch/1/birchwood/senml", GOOD),
    ("topic", "wickwatch/1/birchwood/GW-01/senml", GOOD),
    ("topic", "wickwatch/1/birchwood/" + "x" * 10_000 + "/senml", GOOD),
    ("topic", "(a topic that is not UTF-8)", GOOD),
    ("status", "wickwatch/1/birchwood/gw-01/status", b"perhaps"),
    ("status", "wickwatch/1/birchwood/gw-01/status", b"online" * 1000),
]


def test_a_bad_packet_is_quarantined_and_those_before_and_after_are_stored(
    conn: Connection, subtests: pytest.Subtests
) -> None:
    for reason, topic, payload in BAD_PACKETS:
        with subtests.test(reason, topic=topic[:80]), conn.transaction(force_rollback=True):
            outcome = written(conn, (TOPIC, GOOD), (topic, payload), (TOPIC, pack(tension(2.0, 10))))
            assert told(outcome) == [(reason, 1)]
            assert outcome.written.stored == 2
            kept = conn.execute("SELECT payload, payload_bytes FROM quarantine").fetchone()
            assert kept == (payload[: 64 * 1024], len(payload))


def test_every_reason_a_packet_can_give_is_tried_here() -> None:
    tried = {reason for reason, *_ in (*BAD_RECORDS, *BAD_PACKETS)}
    assert tried == set(REASONS) - {"internal"}  # that one is `test_writer`'s


def test_reasons_of_one_pack_are_told_one_row_each_with_their_number(conn: Connection) -> None:
    bad = [record(unit="psi"), record(unit="bar"), record("pressure"), record(value=1e6), record(value=1e7)]
    outcome = written(conn, (TOPIC, pack(tension(1.0), *bad)))
    assert sorted(told(outcome)) == [("out-of-range", 2), ("quantity", 1), ("unit", 2)]
    assert outcome.written.stored == 1


def test_a_pack_of_ten_thousand_records_is_taken_whole(conn: Connection) -> None:
    many = [{"n": "tension", "v": 100 + second % 7, "t": -second} for second in range(10_000)]
    outcome = written(conn, (TOPIC, pack({"bu": "hPa", **many[0]}, *many[1:])))
    assert told(outcome) == []
    assert outcome.written.stored == 10_000


def test_a_pack_of_ten_thousand_channels_is_taken_whole(conn: Connection) -> None:
    many = [{"n": f"urn:dev:x{number}:tension", "u": "hPa", "v": 1.0, "t": NOW} for number in range(10_000)]
    outcome = written(conn, (TOPIC, orjson.dumps(many)))
    assert outcome.written.stored == 10_000
    assert conn.execute("SELECT count(*) FROM channel").fetchone() == (10_000,)


def test_a_base_name_that_cannot_be_read_is_not_guessed(conn: Connection) -> None:
    payload = orjson.dumps(
        [{"bn": f"{DEVICE}:", "bt": NOW, **tension(1.0)}, {"bn": 5, **tension(2.0)}, tension(3.0, 10)]
    )
    outcome = written(conn, (TOPIC, payload))
    assert told(outcome) == [("not-senml", 2)]
    assert outcome.written.stored == 1


def test_a_level_whose_full_scale_is_missing_is_registered_so_that_it_can_be_set(conn: Connection) -> None:
    level = pack({"n": "level", "u": "/", "v": 0.5})
    assert told(written(conn, (TOPIC, level))) == [("no-full-scale", 1)]
    assert conn.execute("SELECT quantity, unit FROM channel").fetchall() == [("level", "mm")]
    conn.execute("UPDATE channel SET full_scale_mm = 900")
    assert written(conn, (TOPIC, level)).written.stored == 1
    assert conn.execute("SELECT value FROM reading").fetchone() == (450.0,)


def test_a_battery_that_changes_its_unit_is_refused(conn: Connection) -> None:
    volts, percent = ({"n": "battery", "u": unit, "v": 3.3} for unit in ("V", "%EL"))
    assert written(conn, (TOPIC, pack(volts))).written.stored == 1
    assert told(written(conn, (TOPIC, pack(percent, at=NOW - 10)))) == [("unit", 1)]


def test_a_facilitys_own_retention_is_what_too_old_means(conn: Connection) -> None:
    conn.execute("""UPDATE facility SET rules = '{"retention_days": 30}'""")
    outcome = written(conn, (TOPIC, pack(tension(1.0, 29 * 86400), tension(2.0, 31 * 86400))))
    assert told(outcome) == [("too-old", 1)]
    assert outcome.written.stored == 1


def test_a_facility_cannot_write_into_the_channels_of_another(conn: Connection, database_url: str) -> None:
    found(database_url, "elmfield")
    written(conn, (TOPIC, pack(tension(1.0))))
    written(conn, ("wickwatch/1/elmfield/gw-01/senml", pack(tension(2.0))))
    stored = conn.execute(
        "SELECT f.slug, r.value FROM reading r"
        " JOIN channel c ON c.id = r.channel_id JOIN facility f ON f.id = c.facility_id"
    ).fetchall()
    assert sorted(stored) == [("birchwood", 1.0), ("elmfield", 2.0)]


def test_a_facility_that_is_retired_is_unknown(conn: Connection) -> None:
    conn.execute("UPDATE facility SET retired_at = now()")
    assert told(written(conn, (TOPIC, GOOD))) == [("unknown-facility", 1)]


def test_a_facility_founded_a_moment_ago_is_known_to_who_asked_before(conn: Connection, database_url: str) -> None:
    directory = Directory(whole=True)
    topic = "wickwatch/1/elmfield/gw-01/senml"
    assert told(write_batch(conn, directory, [Packet(topic, GOOD, NOW)])) == [("unknown-facility", 1)]
    found(database_url, "elmfield")
    assert told(write_batch(conn, directory, [Packet(topic, GOOD, NOW + 0.1)])) == [("unknown-facility", 1)]
    assert write_batch(conn, directory, [Packet(topic, GOOD, NOW + 3)]).written.stored == 1
