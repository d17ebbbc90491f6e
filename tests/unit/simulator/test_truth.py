"""The truth's records: their fields, what really came of an event, and what happened without one."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from tests.unit.simulator.houses import History, event, house
from wickwatch.cli.readings_file import ReadingsFile
from wickwatch_simulator import Simulation, load_scenario
from wickwatch_simulator.cli import main

FIELDS = {"event", "facility", "room", "subject", "from", "to", "detail"}


def truth_of(sim: Simulation, interval: int = 300) -> list[dict[str, object]]:
    for _ in sim.run(sim.scenario.start, sim.scenario.end, interval):
        pass
    return sim.truth()


def test_every_record_has_the_contract_s_fields_and_is_json(tmp_path: Path) -> None:
    text = event("stuck-open", room=1, day=0.2, hours=6) + event("hot-day", room=1, day=0.4)
    for record in truth_of(Simulation(house(tmp_path, text, days=1))):
        assert set(record) == FIELDS
        assert {"kind", "harmless"} <= set(record["detail"])  # type: ignore[call-overload]
        json.dumps(record, allow_nan=False)


def test_an_event_still_there_has_no_end_and_one_to_come_is_not_told(tmp_path: Path) -> None:
    text = event("stuck-open", room=1, day=0.2) + event("clogged", room=1, minutes_after_end=5)
    records = {r["event"]: r for r in truth_of(Simulation(house(tmp_path, text, days=0.5)))}
    assert records["stuck-open"]["to"] is None and "clogged" not in records


def test_a_reservoir_that_runs_dry_by_a_leak_is_told_without_a_planned_run_out(tmp_path: Path) -> None:
    text = event("reservoir-leak", room=1, day=0.1, hours=90, l_per_h=40)
    records = truth_of(Simulation(house(tmp_path, text, days=2, template="water_days = 3")))
    dry = next(r for r in records if r["event"] == "ran-dry")
    low = next(r for r in records if r["event"] == "low-water")
    assert dry["detail"]["kind"] == "reservoir-empty" and low["detail"]["kind"] == "reservoir-low"  # type: ignore[index]
    assert not low["detail"]["required"] and len(dry["detail"]["explained"]) >= 10  # type: ignore[index]


def test_a_planned_run_out_is_told_once_with_the_moment_it_really_came(tmp_path: Path) -> None:
    text = event("empty-reservoir", room=1, day=2, hours_left=10, hours_empty=5)
    seen = History(house(tmp_path, text, days=5, template="water_days = 4"))
    record = seen.events("empty-reservoir")[0]
    onset, over = record["detail"]["onset"], record["to"]  # type: ignore[index]
    assert onset is not None and str(over) > str(onset)
    assert not [r for r in seen.events("ran-dry") if r["from"] == onset]


def test_a_run_out_that_never_came_has_no_onset(tmp_path: Path) -> None:
    text = event("empty-reservoir", room=1, day=0.5, hours_left=400, hours_empty=5)
    records = truth_of(Simulation(house(tmp_path, text, days=1)))
    assert next(r for r in records if r["event"] == "empty-reservoir")["detail"]["onset"] is None  # type: ignore[index]


def test_a_cut_line_is_told_with_the_hour_in_which_an_emitter_first_asked_for_water(tmp_path: Path) -> None:
    text = event("closed-valve", room=1, day=1.9, hours=30) + event("closed-valve", room=2, day=1.9, hours=30)
    text += event("hand-watering-room", room=2, day=1.85, hours=0.3, share_of_volume=0.04)
    told = [r for r in truth_of(Simulation(house(tmp_path, text, rooms=2, days=4))) if r["event"] == "closed-valve"]
    hours = {
        str(r["room"]): (pd.Timestamp(r["detail"]["due_at"]) - pd.Timestamp(str(r["from"]))) / pd.Timedelta("1h")  # type: ignore[index]
        for r in told
    }
    dry, wet = hours.values()
    assert 0 <= dry < 12 < wet < 30  # invented: one watered by hand just before asks for none for long


def test_a_change_of_clocks_is_told_for_the_house_at_its_hour(tmp_path: Path) -> None:
    records = truth_of(Simulation(house(tmp_path, days=2, start="2026-03-28T12:00:00Z")))
    change = next(r for r in records if r["event"] == "dst-change")
    assert change["from"] == "2026-03-29T01:00:00Z" and change["detail"]["minutes"] == 60  # type: ignore[index]
    assert change["detail"]["harmless"]  # type: ignore[index]


def test_the_run_itself_is_told_so_that_rooms_and_months_can_be_counted(tmp_path: Path) -> None:
    records = truth_of(Simulation(house(tmp_path, rooms=3, days=0.5)))
    told = next(r for r in records if r["event"] == "simulated")
    assert told["detail"]["rooms"] == 3  # type: ignore[index]
    assert (told["from"], told["to"]) == ("2026-03-02T00:00:00Z", "2026-03-02T12:00:00Z")


def test_a_probe_that_lost_its_water_in_a_drought_is_told(tmp_path: Path) -> None:
    text = event("clogged", room=1, day=0.1, passes=0)
    records = truth_of(Simulation(house(tmp_path, text, days=5, template="volume_l = 10\ntwin_share = 0")))
    lost = next(r for r in records if r["event"] == "lost-water")
    assert lost["subject"] == "pot-01" and lost["detail"]["kind"] == "probe-fault"  # type: ignore[index]


def test_the_commands_write_fleet_truth_and_history(tmp_path: Path) -> None:
    common = ["--rooms", "1", "--days", "0.5"]
    assert main(["fleet", *common, "--out", str(tmp_path / "fleet.toml")]) == 0
    assert (tmp_path / "fleet.toml").read_text().startswith("[[facility]]")
    assert main(["truth", *common, "--out", str(tmp_path / "truth.jsonl")]) == 0
    both = ["--out", str(tmp_path / "h.parquet"), "--truth", str(tmp_path / "t2.jsonl")]
    assert main(["history", *common, *both]) == 0
    assert (tmp_path / "t2.jsonl").read_text() == (tmp_path / "truth.jsonl").read_text()


@pytest.mark.parametrize("ending", ["parquet", "csv"])
def test_a_history_file_holds_every_reading_in_the_columns_an_import_takes(tmp_path: Path, ending: str) -> None:
    path = tmp_path / f"h.{ending}"
    assert main(["history", "--rooms", "2", "--days", "0.5", "--interval", "600", "--out", str(path)]) == 0
    frame = pd.read_parquet(path) if ending == "parquet" else pd.read_csv(path)
    assert list(frame.columns) == ["channel", "at", "value", "unit"]
    sim = Simulation(load_scenario("demo", rooms=2, days=0.5))
    chunks = pd.concat([c.frame() for c in sim.run(sim.scenario.start, sim.scenario.end, 600)])
    assert len(frame) == len(chunks)
    assert frame["value"].tolist() == pytest.approx(chunks["value"].tolist())
    assert pd.to_datetime(frame["at"], format="ISO8601").tolist() == chunks["at"].tolist()


@pytest.mark.parametrize("ending", ["parquet", "csv"])
def test_a_history_file_of_one_facility_is_taken_by_the_import_s_reader(tmp_path: Path, ending: str) -> None:
    path = tmp_path / f"h.{ending}"
    common = ["history", "--rooms", "2", "--days", "0.2", "--out", str(path)]
    assert main([*common, "--facility", "saltmarsh"]) == 0
    rows = sum(len(piece.value) for piece in ReadingsFile(path).pieces())
    sim = Simulation(load_scenario("demo", rooms=2, days=0.2))
    chunks = list(sim.run(sim.scenario.start, sim.scenario.end, 300))
    assert rows == sum(int(np.sum(c.channels.facility[c.channel] == 1)) for c in chunks) > 0


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["history", "--out", "x.txt"], "parquet"),
        (["history", "--out", "x.csv", "--facility", "elsewhere"], "birchwood, saltmarsh"),
        (["fleet", "--scenario", "nowhere", "--out", "x"], "demo"),
        (["fleet", "--rooms", "0", "--out", "x"], "rooms"),
        (["fleet", "--out", "/nowhere/x"], "No such file"),
        (["truth", "--interval", "7.5", "--out", "x", "--days", "1"], "divide an hour"),
        (["publish", "--mqtt", "http://x"], "mqtt://"),
        (["publish", "--mqtt", "mqtt://x", "--speed", "0"], "speed"),
        (["score", "--truth", "/nowhere", "--alarms", "/nowhere"], "truth file"),
    ],
)
def test_a_failure_is_one_sentence_and_status_one(
    arguments: list[str], said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(arguments) == 1
    error = capsys.readouterr().err
    assert said in error and error.startswith("wickwatch-simulator: ") and "Traceback" not in error


@pytest.mark.parametrize(
    "arguments", [[], ["fleet"], ["nothing"], ["publish", "--mqtt", "x", "--fast", "--speed", "2"]]
)
def test_bad_usage_is_status_two(arguments: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as stopped:
        main(arguments)
    assert stopped.value.code == 2


@pytest.mark.parametrize("command", [[], ["fleet"], ["truth"], ["history"], ["publish"], ["score"]])
def test_every_command_has_help(command: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as stopped:
        main([*command, "--help"])
    assert stopped.value.code == 0 and "usage: wickwatch-simulator" in capsys.readouterr().out
