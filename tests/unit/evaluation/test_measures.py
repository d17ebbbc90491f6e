"""The figures of hand-made truth, alarms and forecasts, worked out by hand beside them."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import timedelta
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from tests.evaluation.evaluate import Judged
from tests.evaluation.foresight import Foresight
from tests.evaluation.measures import Figure, Measures
from tests.unit.simulator.records import START, alarm, at, happened, run

#: Lights from 06:00 to 18:00 by the facility's clock, which is that of the records (UTC).
LIGHTS = {("alderholm", f"room-0{n}"): (ZoneInfo("UTC"), 6 * 60, 18 * 60) for n in range(1, 5)}

Records = list[dict[str, Any]]


def measured(truth: Records, alarms: Records, foresight: Sequence[Foresight] = ()) -> Measures:
    return Measures([Judged([run(), *truth], alarms, foresight, LIGHTS)])


def figure(name: str, of: Measures) -> Figure:
    (found,) = [each for each in of.must_reach() if each.what == name]
    return found


CUT = alarm("supply-interrupted", "line", 12)


def cut_line(begin: float, end: float, **detail: Any) -> dict[str, Any]:
    return happened("closed-valve", "line", begin, end, kind="supply-interrupted", explained=["pot-01"], **detail)


def test_a_figure_is_reached_within_its_bounds_and_none_where_nothing_is_asked_or_nothing_tells() -> None:
    assert Figure("share", 0.97, 100, least=0.97).reached is True
    assert Figure("share", 0.9699, 100, least=0.97).reached is False
    assert Figure("delay", 6.1, 100, most=6).reached is False
    assert [Figure("coverage", value, 100, 0.75, 0.85).reached for value in (0.74, 0.8, 0.86)] == [False, True, False]
    assert Figure("delay", 6.1, 100).reached is None
    assert Figure("share", None, 0, least=0.97).reached is None


def test_nothing_that_happened_leaves_every_share_untold_and_no_call_false() -> None:
    of = measured([], [])
    told = {each.what: each.value for each in of.must_reach() if each.value is not None}
    assert told == {"false calls per room and month": 0.0}
    assert of.room_months == 4 and of.kinds() == {} and of.by_event() == {}


def test_delays_count_from_the_onset_and_lit_hours_only_by_the_rooms_own_plan() -> None:
    """Begun at 16:00, called at 08:00: two hours of light on the first day, two on the second."""
    of = measured([cut_line(16, 48, due_at=at(17))], [alarm("supply-interrupted", "line", 32)])
    (found,) = of.found
    assert found.minutes == 16 * 60
    assert found.lit_h == 4.0
    assert found.due_lit_h == 3.0  # none was due before 17:00
    assert figure("leak and supply: lit hours of delay, 95 %", of).value == 4.0
    assert figure("the same, cut lines from when a container was due", of).value == 3.0


def test_lights_on_over_midnight_are_counted_on_both_sides_of_it() -> None:
    night = {("alderholm", "room-01"): (ZoneInfo("UTC"), 20 * 60, 8 * 60)}
    judged = Judged([run(), cut_line(18, 48)], [alarm("supply-interrupted", "line", 34)], (), night)
    (found,) = Measures([judged]).found
    assert found.lit_h == 12.0  # from 20:00 to 08:00 of the sixteen hours from 18:00 to 10:00


def test_the_clock_of_the_facility_tells_when_lights_are_on() -> None:
    east = {("alderholm", "room-01"): (ZoneInfo("Asia/Tokyo"), 6 * 60, 18 * 60)}  # 21:00 to 09:00 UTC
    judged = Judged([run(), cut_line(18, 48)], [alarm("supply-interrupted", "line", 24)], (), east)
    (found,) = Measures([judged]).found
    assert found.lit_h == 3.0


def test_a_call_before_the_onset_is_no_delay() -> None:
    early = happened("stuck-open", "pot-01", 100, 120, kind="sudden-wetting", onset=at(101))
    (found,) = measured([early], [alarm("sudden-wetting", "pot-01", 100.5)]).found
    assert found.minutes == 0.0 and found.lit_h == 0.0


@pytest.mark.parametrize(
    ("alarms", "one"),
    [
        pytest.param([CUT], 1.0, id="the line alone"),
        pytest.param([CUT, alarm("drying-drift", "pot-01", 14)], 0.0, id="and its pot"),
        pytest.param(
            [CUT, alarm("drying-drift", "pot-01", 14, cause=CUT["id"])],
            1.0,
            id="and its pot, explained by it",
        ),
        pytest.param([CUT, alarm("supply-interrupted", "line", 20)], 0.0, id="the line twice"),
        pytest.param(
            [CUT, alarm("drying-drift", "pot-09", 14, room="room-02")],
            1.0,
            id="and a pot elsewhere, which is false",
        ),
    ],
)  # fmt: skip
def test_one_call_counts_what_follows_from_a_cut_line_beside_it(alarms: Records, one: float) -> None:
    assert figure("leak and supply: one call", measured([cut_line(10, 40)], alarms)).value == one


def test_an_alarm_that_stood_before_a_leak_began_is_its_one_call() -> None:
    leaks = [
        happened("reservoir-leak", "tank", begin, end, kind="reservoir-leak") for begin, end in ((10, 30), (40, 60))
    ]
    of = measured(leaks, [{**alarm("reservoir-leak", "tank", 14), "cleared_at": at(62)}])
    assert len(of.found) == 2
    assert figure("leak and supply: one call", of).value == 1.0


def test_recall_counts_what_was_to_be_found_only_and_false_calls_are_by_room_and_month() -> None:
    truth = [
        happened("clogged", "pot-01", 100, 200, kind="drying-drift", dry_limit_at=at(150)),
        happened("clogged", "pot-02", 100, 200, kind="drying-drift", room="room-02", dry_limit_at=at(150)),
        happened("clogged", "pot-03", 100, 200, kind="drying-drift", required=False),
    ]
    of = measured(truth, [alarm("drying-drift", "pot-01", 160), alarm("sudden-wetting", "pot-04", 300)])
    assert figure("drying-drift: recall", of).value == 0.5 and figure("drying-drift: recall", of).of == 2
    assert of.by_event() == {"clogged": (2, 1)}
    assert figure("drying-drift: called before the dry limit", of).value == 0.0  # called ten hours after it
    assert figure("false calls per room and month", of).value == 0.25  # one in four rooms and a month
    assert [call.kind for call in of.false_calls()] == ["sudden-wetting"]


def test_a_drift_called_by_the_name_of_a_neighbour_is_told_as_such() -> None:
    drifts = [happened("drifting", "pot-01", 100, 200, kind="drying-drift")]
    right = [alarm("drying-drift", "pot-01", 130)]
    assert figure("drying-drift: names the right container", measured(drifts, right)).value == 1.0
    wrong = [*right, alarm("drying-drift", "pot-02", 140)]
    assert figure("drying-drift: names the right container", measured(drifts, wrong)).value == 0.5


def test_hand_watering_and_lying_probes_taken_for_something_else_are_shares_of_all_of_them() -> None:
    truth = [happened("hand-watering", f"pot-0{n}", 100 + 10 * n, 100.1 + 10 * n) for n in range(1, 5)]
    truth += [happened("flat-probe", "pot-05", 200, 230, kind="probe-fault")]
    of = measured(truth, [alarm("sudden-wetting", "pot-02", 120.5), alarm("probe-fault", "pot-05", 203)])
    assert figure("hand watering called stuck open", of).value == 0.25
    assert figure("probe trouble taken for wetting or drying", of).value == 0.0
    taken = measured(truth, [alarm("drying-drift", "pot-05", 210)])
    assert figure("probe trouble taken for wetting or drying", taken).value == 1.0


def test_slow_probe_faults_do_not_count_towards_the_delay_of_quick_ones() -> None:
    truth = [
        happened("flat-probe", "pot-01", 100, 130, kind="probe-fault"),
        happened("probe-drift", "pot-02", 100, 300, kind="probe-fault"),
    ]
    of = measured(truth, [alarm("probe-fault", "pot-01", 102), alarm("probe-fault", "pot-02", 200)])
    delay = figure("probe-fault: delay, 95 %, drifts and batteries left out", of)
    assert (delay.value, delay.of) == (2.0, 1)
    assert figure("probe-fault: recall", of).value == 1.0


def test_figures_of_several_parts_are_those_of_all_their_events_together() -> None:
    one = Judged([run(), cut_line(10, 40)], [CUT], (), LIGHTS)
    other = Judged(
        [run(), cut_line(10, 40), cut_line(100, 130)], [alarm("supply-interrupted", "line", 104)], (), LIGHTS
    )
    of = Measures([one, other])
    recall = figure("supply-interrupted: recall", of)
    assert (recall.value, recall.of) == (pytest.approx(2 / 3), 3)
    assert of.room_months == 8 and of.rooms == 8


def foreseen(ahead: float, low: float, high: float, begin: float = 0.0) -> Foresight:
    return Foresight("empty", "alderholm", "room-01", "tank", START + timedelta(hours=begin), ahead, low, high)


def ran_dry(at_h: float) -> dict[str, Any]:
    return happened("ran-dry", "tank", at_h, at_h + 5, kind="reservoir-empty", onset=at(at_h))


@pytest.mark.parametrize(
    ("seen", "before", "share"),
    [
        pytest.param(foreseen(10, 8, 12), [], 1.0, id="within its interval"),
        pytest.param(foreseen(6, 5, 8), [], 0.0, id="later than it says"),
        pytest.param(foreseen(20, 15, 30), [], 0.0, id="sooner than it says"),
        pytest.param(foreseen(20, 15, 30), [happened("refill", "tank", 4, 4.2)], None, id="filled in between"),
        pytest.param(foreseen(20, 15, 30), [happened("reservoir-leak", "tank", 4, 9, kind="reservoir-leak")], None,
                     id="leaked in between"),
        pytest.param(foreseen(20, 15, 30), [happened("hot-day", "room-01", 4, 9)], 0.0, id="a hot day is no excuse"),
        pytest.param(foreseen(120, 90, 150, begin=-110), [], None, id="too far ahead"),
    ],
)  # fmt: skip
def test_an_interval_holds_if_what_came_lies_in_it_and_is_left_out_where_it_could_not_know(
    seen: Foresight, before: Records, share: float | None
) -> None:
    of = measured([ran_dry(10), *before], [], [seen])
    assert figure("80 % interval of time to empty: coverage", of).value == share


def test_coverage_of_the_dry_limit_is_of_drifts_that_had_begun_and_counts_each_event_once() -> None:
    drift = happened("clogged", "pot-01", 10, 90, kind="drying-drift", dry_limit_at=at(60))
    made = [
        Foresight("dry-limit", "alderholm", "room-01", "pot-01", START + timedelta(hours=hour), 60.0 - hour, low, high)
        for hour, low, high in ((5, 0, 99), (20, 30, 50), (30, 10, 20))
    ]
    coverage = figure("80 % interval of time to dry limit: coverage", measured([drift], [], made))
    assert coverage.value == 0.5  # the one before the drift began is left out, the last one says too soon
    assert coverage.of == 1
