"""The score of hand-made truth and alarms, with figures worked out by hand beside them."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest

from tests.unit.simulator.records import alarm, at, happened, run
from wickwatch.errors import InputError
from wickwatch_simulator.cli import main
from wickwatch_simulator.score import score
from wickwatch_simulator.score_report import as_json, as_text


def figures(truth: list[dict[str, Any]], alarms: list[dict[str, Any]]) -> dict[str, Any]:
    return as_json(score([run(), *truth], alarms))


STUCK = {"kind": "sudden-wetting"}


def test_found_missed_delay_and_false_are_as_worked_out_by_hand() -> None:
    truth = [
        happened("stuck-open", "pot-01", 100, 120, **STUCK),
        happened("stuck-open", "pot-02", 200, 220, **STUCK),
        happened("stuck-open", "pot-03", 300, 320, room="room-02", **STUCK),
        happened("hand-watering", "pot-04", 400, 400.1),
    ]
    alarms = [
        alarm("sudden-wetting", "pot-01", 100.5),  # found after 30 min
        alarm("sudden-wetting", "pot-01", 110),  # again: right, no new delay
        alarm("sudden-wetting", "pot-02", 201.5),  # found after 90 min
        alarm("sudden-wetting", "pot-03", 300.5),  # the same pot of another room: false, and pot-03 of room-02 missed
        alarm("sudden-wetting", "pot-04", 400.5),  # watered by hand: false
        alarm("drying-drift", "pot-01", 101),  # another kind: false
    ]
    got = figures(truth, alarms)
    assert got["kinds"]["sudden-wetting"] == {
        "events": 3, "found": 2, "missed": 1, "recall": 0.6667, "delay_median_min": 60.0, "delay_p95_min": 87.0,
        "calls": 5, "right": 3, "consequences": 0, "false": 2, "precision": 0.6, "false_per_room_month": 0.5,
    }  # fmt: skip
    assert got["kinds"]["drying-drift"]["false"] == 1
    assert got["false_calls"] == 3 and got["false_per_room_month"] == 0.75  # 3 in 4 rooms and one month
    assert [m["room"] for m in got["missed"]] == ["room-02"]
    assert got["mistaken"]["hand-watering"] == {"events": 1, "by_kind": {"sudden-wetting": 1}}


def test_suppressed_and_explained_alarms_call_nobody_and_are_not_counted() -> None:
    truth = [happened("stuck-open", "pot-01", 100, 120, **STUCK)]
    alarms = [alarm("sudden-wetting", "pot-01", 101, suppressed=True), alarm("drying-drift", "pot-09", 50, cause="x-1")]
    got = figures(truth, alarms)
    assert got["kinds"]["sudden-wetting"]["missed"] == 1 and got["kinds"]["sudden-wetting"]["calls"] == 0
    assert got["false_calls"] == 0


def test_dry_pots_of_an_empty_reservoir_are_a_consequence_and_other_pots_are_false() -> None:
    empty = happened(
        "empty-reservoir", "tank", 10, 60, kind="reservoir-empty", onset=at(40), explained=["pot-01"], name="R1 east"
    )
    alarms = [
        alarm("reservoir-empty", "R1 east", 40.05),
        alarm("drying-drift", "pot-01", 50),
        alarm("drying-drift", "pot-07", 50),
    ]
    got = figures([empty], alarms)
    assert got["kinds"]["reservoir-empty"]["delay_median_min"] == 3.0
    assert got["kinds"]["drying-drift"]["consequences"] == 1 and got["kinds"]["drying-drift"]["false"] == 1


def test_a_run_out_is_foretold_only_if_reservoir_low_came_twelve_hours_ahead() -> None:
    def out(tank: str) -> dict[str, Any]:
        return happened("ran-dry", tank, 100, 130, kind="reservoir-empty", onset=at(100))

    truth = [out("tank-a"), out("tank-b"), out("tank-c")]
    truth += [happened("low-water", t["subject"], 80, 130, kind="reservoir-low", required=False) for t in truth]
    alarms = [alarm("reservoir-low", "tank-a", 87), alarm("reservoir-low", "tank-b", 89)]
    got = figures(truth, alarms)
    assert got["run_outs"] == {"events": 3, "foretold": 1}
    assert got["kinds"]["reservoir-low"]["events"] == 0 and got["kinds"]["reservoir-low"]["right"] == 2


def test_a_run_out_is_foretold_by_the_call_for_a_leak_that_explains_its_low_reservoir() -> None:
    truth = [happened("ran-dry", "tank", 100, 130, kind="reservoir-empty", onset=at(100))]
    leak = {**alarm("reservoir-leak", "tank", 80), "id": "leak"}
    low = {**alarm("reservoir-low", "tank", 85), "id": "low", "suppressed": True, "cause": "leak"}
    assert figures(truth, [leak, low])["run_outs"]["foretold"] == 1
    assert figures(truth, [{**leak, "suppressed": True}, low])["run_outs"]["foretold"] == 0  # nobody was called
    late = {**leak, "raised_at": at(95)}
    assert figures(truth, [late, low])["run_outs"]["foretold"] == 0
    # Nor was anybody called for the leak, if the emitter was called that it flows through.
    emitter = {**alarm("sudden-wetting", "pot-01", 79), "id": "emitter"}
    through = {**leak, "suppressed": True, "cause": "emitter"}
    assert figures(truth, [emitter, through, low])["run_outs"]["foretold"] == 1
    assert figures(truth, [{**emitter, "raised_at": at(95)}, through, low])["run_outs"]["foretold"] == 0
    each_other = {**alarm("reservoir-leak", "tank", 80), "id": "leak", "cause": "low"}
    assert figures(truth, [each_other, low])["run_outs"]["foretold"] == 0


def test_a_run_out_by_water_that_began_to_leave_less_than_twelve_hours_before_is_not_to_be_foretold() -> None:
    def out(tank: str) -> dict[str, Any]:
        return happened("ran-dry", tank, 100, 130, kind="reservoir-empty", onset=at(100), explained=[f"pot-of-{tank}"])

    truth = [out(f"tank-{n}") for n in range(4)]
    truth.append(happened("reservoir-leak", "tank-0", 89, 120, kind="reservoir-leak"))
    truth.append(happened("reservoir-leak", "tank-1", 87, 120, kind="reservoir-leak"))
    truth.append(happened("stuck-open", "pot-of-tank-2", 90, 110, **STUCK))
    truth.append(happened("stuck-open", "pot-of-another", 90, 110, **STUCK))
    assert figures(truth, [])["run_outs"]["events"] == 2
    # Called or not, such a run-out is not counted.
    calls = [alarm("reservoir-low", f"tank-{n}", 80) for n in range(4)]
    assert figures(truth, calls)["run_outs"] == {"events": 2, "foretold": 2}


def test_a_forecast_may_come_before_its_onset_and_a_call_of_what_is_may_not() -> None:
    truth = [
        happened("low-water", "tank", 80, 130, kind="reservoir-low"),
        happened("stuck-open", "pot-01", 80, 90, **STUCK),
    ]
    before = {**alarm("sudden-wetting", "pot-01", 79.9), "cleared_at": at(79.95)}
    got = figures(truth, [alarm("reservoir-low", "tank", 60), before])
    assert got["kinds"]["reservoir-low"]["found"] == 1 and got["kinds"]["reservoir-low"]["delay_median_min"] == 0.0
    assert got["kinds"]["sudden-wetting"]["found"] == 0 and got["kinds"]["sudden-wetting"]["false"] == 1


def test_a_call_that_came_too_early_is_false_but_what_it_still_stands_for_is_found() -> None:
    truth = [happened("ran-dry", "tank", 100, 130, kind="reservoir-empty", onset=at(100))]
    early = alarm("reservoir-empty", "tank", 96)  # two hours are not too early
    for cleared, found in ((None, 1), (at(128), 1), (at(99), 0)):
        got = figures(truth, [{**early, "cleared_at": cleared}])
        assert (got["kinds"]["reservoir-empty"]["found"], got["false_calls"]) == (found, 1)
    other = figures(truth, [{**early, "subject": {"type": "reservoir", "id": "x", "name": "another"}}])
    assert other["kinds"]["reservoir-empty"]["found"] == 0


def test_a_late_call_is_right_within_its_kind_s_grace_and_false_after() -> None:
    drift = happened("drifting", "pot-01", 0, 200, kind="drying-drift")
    assert figures([drift], [alarm("drying-drift", "pot-01", 223)])["kinds"]["drying-drift"]["found"] == 1
    assert figures([drift], [alarm("drying-drift", "pot-01", 225)])["kinds"]["drying-drift"]["found"] == 0


def test_what_never_came_to_it_or_had_no_time_is_not_to_be_found() -> None:
    truth = [
        happened("empty-reservoir", "tank", 10, 60, kind="reservoir-empty", onset=None),
        happened("stuck-open", "pot-01", 718, None, **STUCK),  # two hours before the end; patience is three
        happened("drifting", "pot-02", 300, 310, kind="drying-drift"),  # mended after ten hours; patience is a day
    ]
    assert figures(truth, [])["kinds"] == {}
    found = figures(truth, [alarm("sudden-wetting", "pot-01", 719)])["kinds"]["sudden-wetting"]
    assert (found["events"], found["found"]) == (1, 1)


def test_a_silent_gateway_is_matched_from_any_of_its_rooms_and_explains_their_probes() -> None:
    silent = happened("silent-gateway", "gw-01", 10, 12, kind="gateway-silent", rooms=["room-01", "room-02"],
                      explained=["pot-05"])  # fmt: skip
    alarms = [alarm("gateway-silent", "gw-01", 10.2, room=None), alarm("probe-silent", "pot-05", 10.5, room="room-02")]
    got = figures([silent], alarms)
    assert got["kinds"]["gateway-silent"]["found"] == 1
    assert got["kinds"]["probe-silent"]["consequences"] == 1


@pytest.mark.parametrize("key", ["id", "slug", "name"])
def test_a_subject_agrees_by_id_slug_or_name(key: str) -> None:
    call = alarm(
        "sudden-wetting", "Pot 1", 101, subject={"type": "container", "id": "8f1c", "name": "x", key: "pot-01"}
    )
    truth = [happened("stuck-open", "pot-01", 100, 120, **STUCK)]
    assert figures(truth, [call])["kinds"]["sudden-wetting"]["found"] == 1


def test_nothing_raised_and_nothing_happened_is_no_error() -> None:
    got = score([run()], [])
    assert as_json(got)["kinds"] == {} and "false calls 0" in as_text(got)


def test_the_table_shows_a_dash_where_a_figure_cannot_be_told() -> None:
    text = as_text(score([run()], [alarm("uneven-room", "room-01", 5)]))
    row = next(line for line in text.splitlines() if line.startswith("uneven-room")).split()
    assert row[1:7] == ["0", "0", "0", "-", "-", "-"]


def test_the_command_prints_the_same_figures_from_files(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    truth = [run(), happened("stuck-open", "pot-01", 100, 120, **STUCK)]
    alarms = [alarm("sudden-wetting", "pot-01", 100.5)]
    for name, lines in (("t", truth), ("a", alarms)):
        (tmp_path / name).write_text("".join(json.dumps(line) + "\n" for line in lines))
    assert main(["score", "--truth", str(tmp_path / "t"), "--alarms", str(tmp_path / "a"), "--json"]) == 0
    assert json.loads(capsys.readouterr().out) == as_json(score(truth, alarms))


@pytest.mark.parametrize(
    ("truth", "alarms", "said"),
    [
        ("{}\n", "", "no record of the run"),
        ("not json\n", "", "line 1"),
        (json.dumps(run()) + '\n{"event": "x"}\n', "", "truth line 2.*facility is missing"),
        (json.dumps(run()) + "\n", '{"kind": "x"}\n', "alarms line 1.*facility is missing"),
        (json.dumps(run()) + "\n", json.dumps(alarm("x", "y", 1) | {"raised_at": "noon"}) + "\n", "noon"),
    ],
)
def test_a_file_that_cannot_be_scored_is_one_clear_sentence(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], truth: str, alarms: str, said: str
) -> None:
    (tmp_path / "t").write_text(truth)
    (tmp_path / "a").write_text(alarms)
    assert main(["score", "--truth", str(tmp_path / "t"), "--alarms", str(tmp_path / "a")]) == 1
    error = capsys.readouterr().err
    assert error.count("\n") == 1
    assert re.search(said, error)
    with pytest.raises(InputError):
        main(["--debug", "score", "--truth", str(tmp_path / "t"), "--alarms", str(tmp_path / "a")])


def test_a_call_for_the_water_of_a_stuck_emitter_follows_from_it() -> None:
    truth = [happened("stuck-open", "pot-01", 100, 120, **STUCK)]
    got = figures(truth, [alarm("reservoir-leak", "tank", 106)])
    assert (got["kinds"]["reservoir-leak"]["consequences"], got["false_calls"]) == (1, 0)


def test_empty_an_hour_early_is_right_and_half_a_day_early_is_not() -> None:
    truth = [happened("ran-dry", "tank", 100, 110, kind="reservoir-empty")]
    assert figures(truth, [alarm("reservoir-empty", "tank", 99)])["false_calls"] == 0
    assert figures(truth, [alarm("reservoir-empty", "tank", 88)])["false_calls"] == 1


def test_a_clog_in_a_pot_without_a_plant_need_not_be_found_unless_it_dried_out() -> None:
    gone = happened("plant-removed", "pot-01", 50, 400)
    clog = happened("clogged", "pot-01", 100, 200, kind="drying-drift")
    assert "drying-drift" not in figures([gone, clog], [])["kinds"]
    dried = happened("clogged", "pot-01", 100, 200, kind="drying-drift", dry_limit_at=at(150))
    assert figures([gone, dried], [])["kinds"]["drying-drift"]["missed"] == 1
