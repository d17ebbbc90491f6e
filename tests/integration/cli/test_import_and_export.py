"""Readings from files and back: what is refused is told by line and reason, and what is written can be taken again."""

from __future__ import annotations

import csv
import uuid
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pandas as pd
import psycopg
import pytest

from tests.integration.cli.conftest import EXAMPLE, Cli
from wickwatch.store import readings
from wickwatch.store.connect import connect

POT = "urn:dev:mac:0024befffe804ff1:tension"
TODAY = datetime.now(UTC).replace(minute=0, second=0, microsecond=0)


def at(hours_ago: float) -> str:
    return (TODAY - timedelta(hours=hours_ago)).strftime("%Y-%m-%dT%H:%M:%SZ")


def stored(database_url: str) -> list[tuple[str, str, float]]:
    with psycopg.connect(database_url) as conn:
        return conn.execute(
            """SELECT c.name, to_char(r.at AT TIME ZONE 'UTC', 'YYYY-MM-DD"T"HH24:MI:SS"Z"'), r.value
               FROM reading r JOIN channel c ON c.id = r.channel_id ORDER BY c.name, r.at"""
        ).fetchall()


def write(path: Path, *lines: str) -> Path:
    path.write_text("\n".join(lines) + "\n")
    return path


def test_readings_are_stored_in_the_units_they_are_kept_in(fleet: Cli, database_url: str, tmp_path: Path) -> None:
    file = write(
        tmp_path / "a.csv",
        "unit,at,channel,value",
        f"kPa,{at(3)},{POT},10",
        f"hPa,{at(2)},{POT},101.5",
        f"m,{at(2)},urn:dev:mac:0024befffe804fa1:level,0.5",
        f"Cel,{at(2)},urn:dev:x:1:temperature,21",
        f",{at(1)},{POT},103",
        f"mbar,{at(0).replace('T', ' ').replace('Z', '.500000+00:00')},{POT},1e2",
    )
    ran = fleet("import", file)
    assert (ran.code, ran.err) == (0, "")
    assert ran.out.splitlines() == [
        "6 stored, 0 there already, 0 there with another value, 0 refused",
        "2 channels are attached from their first reading on, which is one of these now",
        "1 channels are attached to nothing: nobody judges their readings",
    ]
    assert stored(database_url) == [
        ("urn:dev:mac:0024befffe804fa1:level", at(2), 500),
        (POT, at(3), 100),
        (POT, at(2), 101.5),
        (POT, at(1), 103),
        (POT, at(0), 100),
        ("urn:dev:x:1:temperature", at(2), 21),
    ]


def test_readings_from_before_a_moment_that_was_named_are_told_to_belong_to_nothing(cli: Cli, tmp_path: Path) -> None:
    assert cli("fleet", "apply", EXAMPLE, "--from", at(5)).code == 0
    file = write(tmp_path / "a.csv", "channel,at,value", f"{POT},{at(9)},101", f"{POT},{at(1)},103")
    ran = cli("import", file)
    assert (ran.code, ran.err) == (0, "")
    assert ran.out.splitlines()[1:] == [
        "1 channels have readings from before they were attached, the last of them at"
        f" {at(5).replace('Z', '+00:00')}: these belong to nothing, and nobody judges them"
    ]


def test_every_refused_line_is_told_with_its_number_and_reason_and_no_good_one_is_lost(
    fleet: Cli, database_url: str, tmp_path: Path
) -> None:
    file = write(
        tmp_path / "a.csv",
        "channel,at,value,unit",
        f"{POT},{at(5)},100,hPa",
        f"{POT},{at(4)},100,psi",
        "",
        f"{POT},{at(4)},wet,hPa",
        f"{POT},{at(4)},nan,hPa",
        f"{POT},{at(4)},-inf,hPa",
        f"{POT},{at(4)},99999,hPa",
        f"{POT},{at(4)[:-1]},100,hPa",
        f"{POT},yesterday,100,hPa",
        f"{POT},2026-02-30T00:00:00Z,100,hPa",
        f"{POT},{at(-24)},100,hPa",
        f"{POT},{at(24 * 500)},100,hPa",
        f"urn:dev:x:1:weight,{at(4)},100,kg",
        f",{at(4)},100,hPa",
        f"{POT},{at(4)}",
        f"{POT},{at(4)},100,hPa,more",
        f"{'x' * 10_000}:tension,{at(4)},100,hPa",
        f"{POT},{at(3)},101,hPa",
    )
    refused = tmp_path / "refused.csv"
    ran = fleet("import", file, "--rejects", refused)
    assert ran.code == 0
    assert stored(database_url) == [(POT, at(5), 100), (POT, at(3), 101)]
    expected = {
        3: "unit", 5: "not-finite", 6: "not-finite", 7: "not-finite", 8: "out-of-range", 9: "time", 10: "time",
        11: "time", 12: "future", 13: "too-old", 14: "quantity", 15: "name", 16: "row", 17: "row", 18: "name",
    }  # fmt: skip
    with refused.open() as lines:
        rows = list(csv.DictReader(lines))
    assert {int(row["line"]): row["reason"] for row in rows} == expected
    told = [line.split(": ") for line in ran.err.splitlines() if line.startswith(str(file))]
    assert {int(line[0].rpartition(":")[2]): line[1] for line in told} == expected
    assert f"{file}:9: time: '{at(4)[:-1]}' has no time zone" in ran.err
    assert f"{file}:8: out-of-range: '{POT}' is '99999'; possible are -100 to 2000" in ran.err
    assert ran.out.startswith(
        "2 stored, 0 there already, 0 there with another value, 15 refused (not-finite 3, time 3,"
    )


def test_a_hundred_rejects_are_listed_and_the_others_counted(fleet: Cli, tmp_path: Path) -> None:
    file = write(tmp_path / "a.csv", "channel,at,value", *[f"{POT},{at(1)},x"] * 150)
    ran = fleet("import", file)
    assert ran.code == 1
    assert len([line for line in ran.err.splitlines() if line.startswith(str(file))]) == 100
    assert "and 50 more; --rejects FILE takes them all" in ran.err


def test_a_file_taken_twice_is_stored_once_and_other_values_are_counted(
    fleet: Cli, database_url: str, tmp_path: Path
) -> None:
    lines = [f"{POT},{at(hour)},{100 + hour}" for hour in range(5)]
    file = write(tmp_path / "a.csv", "channel,at,value", *lines)
    assert fleet("import", file).out.startswith("5 stored, 0 there already")
    assert fleet("import", file).out.startswith("0 stored, 5 there already, 0 there with another value")
    other = write(tmp_path / "b.csv", "channel,at,value", f"{POT},{at(0)},5", f"{POT},{at(9)},5")
    assert fleet("import", other).out.startswith("1 stored, 0 there already, 1 there with another value")
    assert len(stored(database_url)) == 6


def test_buckets_that_readings_touch_are_marked_to_be_rolled_up(fleet: Cli, database_url: str, tmp_path: Path) -> None:
    fleet("import", write(tmp_path / "a.csv", "channel,at,value", f"{POT},{at(2)},1", f"{POT},{at(1)},1"))
    with psycopg.connect(database_url) as conn:
        assert conn.execute("SELECT at FROM rollup_due ORDER BY at").fetchall() == [
            (TODAY - timedelta(hours=2),),
            (TODAY - timedelta(hours=1),),
        ]


@pytest.mark.parametrize("text", [True, False], ids=["times as text", "times as timestamps"])
def test_parquet_is_taken_like_csv(fleet: Cli, database_url: str, tmp_path: Path, text: bool) -> None:
    times = pd.Series([at(2), at(1), at(0), "2031-01-01T00:00:00Z"])
    table = pd.DataFrame(
        {
            "channel": pd.Categorical([POT, POT, "urn:dev:x:1:humidity", POT]),
            "at": times if text else pd.to_datetime(times, utc=True),
            "value": np.array([10, 11, 55, 12], np.float32),
            "unit": ["kPa", None, "%RH", None],
        }
    )
    file = tmp_path / "a.parquet"
    table.to_parquet(file)
    ran = fleet("import", file)
    assert ran.code == 0
    assert ran.out.startswith("3 stored, 0 there already, 0 there with another value, 1 refused (future 1)")
    assert f"{file}:4: future: '{POT}' at 2031-01-01" in ran.err
    assert stored(database_url) == [(POT, at(2), 100), (POT, at(1), 11), ("urn:dev:x:1:humidity", at(0), 55)]


@pytest.mark.parametrize(
    ("name", "content", "said"),
    [
        ("a.csv", b"channel;at;value\n", "columns is 'channel;at;value'; accepted: the columns channel, at, value and"),
        ("a.csv", b"channel,at,value,units\n", "columns is 'channel, at, value, units'; accepted: the columns"),
        (
            "a.csv",
            b"channel,at\n",
            "columns is 'channel, at'; accepted: the columns channel, at, value and perhaps unit",
        ),
        ("a.csv", b"", "columns is ''; accepted: the columns"),
        ("a.csv", b"\xff\xfe\x00", "is 'bytes that are not UTF-8'; accepted: CSV in UTF-8, or Parquet"),
        (
            "a.csv",
            b"channel,at,value\n" + b"a,b,1\n" * 5000 + b"\xff,b,1\n",
            "accepted: a file that can be read to its end",
        ),
        ("a.parquet", b"channel,at,value\n", "accepted: a Parquet file"),
    ],
)
def test_a_file_that_can_not_be_read_exits_1_with_one_sentence(
    fleet: Cli, tmp_path: Path, name: str, content: bytes, said: str
) -> None:
    (tmp_path / name).write_bytes(content)
    ran = fleet("import", tmp_path / name)
    assert ran.code == 1
    assert ran.err.startswith(f"wickwatch import: {tmp_path / name}")
    assert said in ran.err
    assert len(ran.err.splitlines()) == 1


def test_parquet_times_without_a_zone_are_refused(fleet: Cli, tmp_path: Path) -> None:
    table = pd.DataFrame({"channel": [POT], "at": [pd.Timestamp(TODAY.replace(tzinfo=None))], "value": [1.0]})
    table.to_parquet(tmp_path / "a.parquet")
    ran = fleet("import", tmp_path / "a.parquet")
    assert ran.code == 1
    assert "type of column at is 'timestamp[us]'; accepted: times with a zone" in ran.err


def test_no_file_is_taken_when_one_of_them_is_not_there(fleet: Cli, database_url: str, tmp_path: Path) -> None:
    good = write(tmp_path / "a.csv", "channel,at,value", f"{POT},{at(1)},1")
    ran = fleet("import", good, tmp_path / "b.csv")
    assert (ran.code, stored(database_url)) == (1, [])
    assert ran.err == f"wickwatch import: {tmp_path / 'b.csv'}: No such file or directory\n"


def test_the_facility_is_asked_for_where_there_are_several(fleet: Cli, database_url: str, tmp_path: Path) -> None:
    assert fleet("fleet", "apply", "-", stdin=EXAMPLE.read_text().replace("birchwood", "elmtree")).code == 0
    file = write(tmp_path / "a.csv", "channel,at,value", f"{POT},{at(1)},1")
    assert "accepted: one of: birchwood, elmtree" in fleet("import", file).err
    assert fleet("import", file, "--facility", "elmtree").code == 0
    with psycopg.connect(database_url) as conn:
        row = conn.execute(
            "SELECT f.slug FROM reading r JOIN channel c ON c.id = r.channel_id JOIN facility f ON f.id = c.facility_id"
        ).fetchone()
    assert row == ("elmtree",)


@pytest.mark.parametrize("kind", ["csv", "parquet"])
def test_exported_readings_can_be_taken_again(fleet: Cli, database_url: str, tmp_path: Path, kind: str) -> None:
    lines = [f"{POT},{at(hour)},{100 + hour / 7},hPa" for hour in range(30)]
    lines += [f"urn:dev:x:1:{what},{at(1)},{value},{unit}" for what, value, unit in (
        ("level", 5, "cm"), ("temperature", 21, "Cel"), ("humidity", 50, "%RH"), ("flow", 2, "l/s"),
        ("battery", 3.1, "V"),
    )]  # fmt: skip
    assert fleet("import", write(tmp_path / "in.csv", "channel,at,value,unit", *lines)).code == 0
    before = stored(database_url)
    assert len(before) == 35
    out = tmp_path / f"out.{kind}"
    ran = fleet("export", "--from", at(40), "--to", at(-1), "--out", out)
    assert (ran.code, ran.out) == (0, f"35 readings in {out}\n")
    with psycopg.connect(database_url) as conn:
        conn.execute("TRUNCATE reading")
    assert fleet("import", out).out.startswith("35 stored, 0 there already, 0 there with another value, 0 refused")
    assert stored(database_url) == before


def test_an_export_ends_before_its_end_and_is_limited_to_a_room(fleet: Cli, tmp_path: Path) -> None:
    start = (TODAY - timedelta(hours=10)).isoformat()
    moved = EXAMPLE.read_text().replace("ff1:tension", "ff9:tension").replace("ff4:tension", "ff1:tension")
    lines = [f"{POT},{at(hour)},{hour}" for hour in range(10)]
    assert fleet("import", write(tmp_path / "in.csv", "channel,at,value", *lines)).code == 0

    def exported(*more: str) -> list[float]:
        out = tmp_path / "out.csv"
        assert fleet("export", "--from", start, "--to", at(2), *more, "--out", out).code == 0
        return [float(value) for value in pd.read_csv(out)["value"]]

    assert exported() == [9, 8, 7, 6, 5, 4, 3]
    assert exported("--room", "room-03") == exported(), "what was never heard is attached from its first reading on"
    assert exported("--room", "room-04") == []
    assert fleet("fleet", "apply", "-", stdin=EXAMPLE.read_text().replace("birchwood", "elmtree")).code == 0
    other = fleet("fleet", "apply", "-", "--from", at(8), stdin=moved.replace("birchwood", "ash"))
    assert other.code == 0
    ash = write(tmp_path / "ash.csv", "channel,at,value", *lines)
    assert fleet("import", ash, "--facility", "ash").code == 0
    assert exported("--facility", "ash", "--room", "room-04") == [8, 7, 6, 5, 4, 3]
    assert exported("--facility", "ash", "--room", "room-03") == []
    ran = fleet(
        "export", "--facility", "ash", "--room", "x", "--from", start, "--to", at(2), "--out", tmp_path / "y.csv"
    )
    assert ran.err == "wickwatch export: room is 'x'; accepted: one of: room-03, room-04\n"
    assert not list(tmp_path.glob("y.csv*"))


def test_alarms_and_work_are_exported_with_names(fleet: Cli, database_url: str, tmp_path: Path) -> None:
    with psycopg.connect(database_url) as conn:
        facility, room, pot = conn.execute(
            """SELECT f.id, r.id, c.id FROM facility f JOIN room r ON r.facility_id = f.id
               JOIN container c ON c.room_id = r.id WHERE c.slug = 'pot-01'"""
        ).fetchone() or (None, None, None)
        conn.execute(
            """INSERT INTO alarm (id, facility_id, room_id, kind, subject_type, subject_id, subject_name, priority,
                   state, condition_present, raised_at, message, evidence)
               VALUES (%s, %s, %s, 'drying-drift', 'container', %s, 'pot-01', 'medium', 'unacknowledged', true, %s,
                   'Pot 1 dries, "fast"', '{"slope": 4.5}')""",
            (uuid.uuid4(), facility, room, pot, TODAY - timedelta(hours=3)),
        )
        conn.execute(
            """INSERT INTO work_entry (facility_id, room_id, kind, subject_type, subject_id, at, note)
               VALUES (%s, %s, 're-set-emitter', 'container', %s, %s, E'one\\nturn')""",
            (facility, room, pot, TODAY - timedelta(hours=2)),
        )
    for what, kind, column, value in (
        ("alarms", "drying-drift", "message", 'Pot 1 dries, "fast"'),
        ("work", "re-set-emitter", "note", "one\nturn"),
    ):
        for end in ("csv", "parquet"):
            out = tmp_path / f"{what}.{end}"
            ran = fleet("export", "--what", what, "--from", at(10), "--to", at(1), "--room", "room-03", "--out", out)
            assert ran.code == 0
            table = pd.read_csv(out) if end == "csv" else pd.read_parquet(out)
            assert (len(table), table["kind"][0], table[column][0]) == (1, kind, value)
            assert (table["facility"][0], table["room"][0]) == ("birchwood", "room-03")
            assert table["subject_name"][0] == "pot-01"
        assert fleet("export", "--what", what, "--from", at(1), "--to", at(0), "--out", out).out.startswith("0 ")


def test_an_export_with_its_end_before_its_start_is_refused(fleet: Cli, tmp_path: Path) -> None:
    ran = fleet("export", "--from", at(1), "--to", at(2), "--out", tmp_path / "a.csv")
    assert ran.code == 1
    assert "accepted: a time after --from" in ran.err


def test_line_numbers_hold_across_the_pieces_of_a_large_file(fleet: Cli, tmp_path: Path) -> None:
    good = f"{POT},{at(1)},1,hPa"
    lines = [good] * 400_000
    broken = {7: f"{POT},{at(1)}", 150_000: "a,b", 150_001: f"{POT},{at(1)},x,hPa", 399_990: f"{POT},{at(1)},x,hPa"}
    for number, text in broken.items():
        lines[number - 2] = text
    ran = fleet("import", write(tmp_path / "a.csv", "channel,at,value,unit", *lines))
    told = [int(line.split(":")[1]) for line in ran.err.splitlines() if line.startswith(str(tmp_path))]
    assert sorted(told) == sorted(broken)
    assert ran.out.startswith("1 stored, 399995 there already, 0 there with another value, 4 refused")


def test_a_channel_heard_in_volts_keeps_them(fleet: Cli, database_url: str, tmp_path: Path) -> None:
    name = "urn:dev:x:1:battery"
    volts = write(tmp_path / "a.csv", "channel,at,value,unit", f"{name},{at(2)},3.6,V")
    assert fleet("import", volts).code == 0
    bare = write(tmp_path / "b.csv", "channel,at,value", f"{name},{at(1)},3.5")
    assert fleet("import", bare).code == 0
    share = write(tmp_path / "c.csv", "channel,at,value,unit", f"{name},{at(0)},80,%EL")
    assert ": unit: " in fleet("import", share).err
    with connect(database_url, "test") as conn:
        row = conn.execute("SELECT id, unit FROM channel WHERE name = %s", (name,)).fetchone()
        assert row is not None
        found = readings.series(conn, row[0], TODAY - timedelta(days=1), TODAY + timedelta(hours=1))
    assert (row[1], found.mean.tolist()) == ("V", [3.6, 3.5])
