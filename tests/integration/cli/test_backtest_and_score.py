"""A simulated history from its scenario file to the score of a backtest over it, by commands and files alone."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from tests.integration.cli.conftest import Cli
from wickwatch_simulator.cli import main as simulator

# Two quiet days but for a probe that falls silent at 14:24 of the second.
SCENARIO = """
name = "one room"
seed = 11
start = 2026-03-02T00:00:00Z
days = 2
rooms = 1

[[facility]]
slug = "alderholm"
name = "Alderholm"
zone = "Europe/Oslo"
rooms_per_gateway = 1
gateway = {}

[[template]]
name = "Room"
age_days = [40, 60]

[[event]]
event = "silent-probe"
room = 1
container = 2
day = 1.6
hours = 6
"""
FROM, TO = "2026-03-03T14:00:00Z", "2026-03-03T15:30:00Z"
SILENT_FROM = datetime(2026, 3, 3, 14, 24, tzinfo=UTC)


@pytest.fixture
def database_url(plain_url: str) -> str:
    """One database is enough: what differs between engines is tested elsewhere."""
    return plain_url


@pytest.mark.timeout(300)
def test_what_is_simulated_is_imported_judged_again_and_scored(
    cli: Cli, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    files = {name: tmp_path / name for name in ("scenario.toml", "fleet.toml", "readings.csv", "truth.jsonl")}
    files["scenario.toml"].write_text(SCENARIO)
    scenario = ("--scenario", str(files["scenario.toml"]))
    assert simulator(["fleet", *scenario, "--out", str(files["fleet.toml"])]) == 0
    told = ("--truth", str(files["truth.jsonl"]))
    assert simulator(["history", *scenario, "--out", str(files["readings.csv"]), *told]) == 0

    # The history grows old while this test does not: it is kept for as long as can be.
    zone = 'zone = "Europe/Oslo"\n'
    text = files["fleet.toml"].read_text()
    files["fleet.toml"].write_text(text.replace(zone, zone + "rules = { retention_days = 36500 }\n", 1))
    assert cli("fleet", "apply", files["fleet.toml"]).code == 0
    ran = cli("backtest", "--from", FROM, "--to", TO, "--json")
    assert (ran.code, ran.out) == (0, "")
    assert "alderholm: no channel was attached to anything before 20" in ran.err, "nobody wonders why there is no alarm"
    ran = cli("import", files["readings.csv"], "--facility", "alderholm")
    assert ran.code == 0, ran.err
    assert " channels are attached from their first reading on" in ran.out

    ran = cli("backtest", "--from", FROM, "--to", TO, "--facility", "alderholm", "--json")
    assert ran.code == 0, ran.err
    alarms = [json.loads(line) for line in ran.out.splitlines()]
    assert [(alarm["kind"], alarm["room"], alarm["subject"]["name"]) for alarm in alarms] == [
        ("probe-silent", "room-01", "pot-02")
    ]
    assert set(alarms[0]) >= {"id", "priority", "state", "raised_at", "message", "evidence", "cause", "advice"}
    raised = datetime.fromisoformat(alarms[0]["raised_at"])
    assert 0 < (raised - SILENT_FROM).total_seconds() < 3600
    assert cli("export", "--what", "alarms", "--from", FROM, "--to", TO, "--out", tmp_path / "a.csv").out[:2] == "0 ", (
        "a backtest changes nothing"
    )

    (tmp_path / "alarms.jsonl").write_text(ran.out)
    capsys.readouterr()
    assert simulator(["score", *told, "--alarms", str(tmp_path / "alarms.jsonl"), "--json"]) == 0
    kinds = json.loads(capsys.readouterr().out)["kinds"]
    assert (kinds["probe-silent"]["found"], kinds["probe-silent"]["missed"]) == (1, 0)
    patient = cli("backtest", "--from", FROM, "--to", TO, "--set", "silent_minutes=60", "--json")
    (later,) = [json.loads(line) for line in patient.out.splitlines()]
    assert datetime.fromisoformat(later["raised_at"]) >= SILENT_FROM + timedelta(minutes=55) > raised
