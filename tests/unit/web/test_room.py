"""The room page as data."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from typing import Any
from uuid import UUID, uuid4

import numpy as np
import pytest

from tests.unit.web.rows import NOW, alarm, container, reservoir, room, state
from wickwatch.agronomy.arrays import Interval
from wickwatch.alarms import Period
from wickwatch.store.judged import Judged
from wickwatch.store.service import Device, Listed
from wickwatch.store.work import Entry
from wickwatch.web.views import ranking, values
from wickwatch.web.views import room as view
from wickwatch.web.views.chart_data import chart_data
from wickwatch.web.views.days import Day
from wickwatch.web.views.room_charts import tension_figure
from wickwatch.web.views.service import ServicePart, service_part
from wickwatch.web.views.settled import SettledLine
from wickwatch.web.views.state import RoomState

OUT = ServicePart((), (), (), "4")


@pytest.mark.parametrize("span", values.SPANS)
def test_a_window_holds_now_and_stands_on_whole_buckets(span: values.Span) -> None:
    shown = values.window(span, NOW)
    assert shown.end - shown.start == span.length
    assert shown.start <= NOW < shown.end <= NOW + span.every
    assert shown.start.timestamp() % span.every.total_seconds() == 0


def test_a_span_nobody_knows_is_the_shortest() -> None:
    assert values.span_of("century") is values.SPANS[0]


def _page(made: RoomState, days: dict[UUID, Day] | None = None, **changes: Any) -> view.RoomPage:
    """The page of a room over the last day."""
    span = changes.pop("span", values.SPANS[0])
    given: dict[str, Any] = {
        "means": {},
        "alarms": [],
        "work": [],
        "refills": [],
        "settled": {},
        "days": days or {},
        "service": OUT,
    }
    given |= {"banners": (), "now": NOW, "may_act": True} | changes
    return view.page(made, span, values.window(span, NOW), **given)


def _day(median_mbar: float) -> Day:
    nothing = np.asarray(np.nan)
    return Day(median_mbar, 0.5, Interval(nothing, nothing, nothing), False)


def test_containers_are_ranked_by_what_to_re_set_and_then_by_how_far_off_they_are_in_their_own_band() -> None:
    row = room()
    # 60-100-180: 20 below the set point is half way to the wet limit, 20 above a quarter of the way to the dry one.
    pots = [container(row, 80.0, "Below"), container(row, 120.0, "Above"), container(row, 100.0, "At it")]
    off = [container(row, 50.0, "Wet"), container(row, 155.0, "Near"), container(row, 300.0, "Explained")]
    silent = container(row, 100.0, "Silent", read_at=NOW - timedelta(hours=2))
    explained = alarm(row, state="suppressed-by-design", subject_id=off[2].id)
    made = state(row, *pots, *off, silent, container(row, None, "Unread"), explained)
    lines = _page(made).containers
    assert [(line.name, line.todo) for line in lines] == [
        ("Wet", "re-set"), ("Silent", "probe"), ("Unread", "probe"), ("Explained", "cause"), ("Near", "visit"),
        ("Below", "fine"), ("Above", "fine"), ("At it", "fine"),
    ]  # fmt: skip
    assert lines[0].todo_words == "re-set drier"
    assert [line.off for line in lines[4:7]] == ["+55", "-20", "+20"]


def test_a_pulse_of_watering_is_no_reason_to_re_set_an_emitter() -> None:
    row = room()
    pulse, dry = container(row, 20.0, "Just watered"), container(row, 100.0, "Dry all day")
    lines = _page(state(row, pulse, dry), {pulse.id: _day(101.0), dry.id: _day(190.0)}).containers
    assert [(line.name, line.todo_words, line.day) for line in lines] == [
        ("Dry all day", "re-set wetter", "190"), ("Just watered", "look again: too wet now, not over the day", "101"),
    ]  # fmt: skip


def test_why_a_pot_is_not_settled_is_told_only_after_work() -> None:
    row = room()
    asked, usual, ready = (container(row, 100.0, name) for name in ("Asked", "Usual", "Ready"))
    why = "still drying by 10.0 mbar an hour"
    line = SettledLine(asked.id, "Asked", False, "100", "100", why, None, "re-set the emitter at 09:00")
    settled = {
        asked.id: line,
        usual.id: replace(line, id=usual.id, settling=""),
        ready.id: replace(line, id=ready.id, ready=True, why="", settling=""),
    }
    lines = ranking.ranked(state(row, asked, usual, ready), {}, settled, NOW)
    assert {one.name: one.settled for one in lines} == {"Asked": why, "Usual": "", "Ready": "settled"}


def test_a_level_is_drawn_as_usable_litres() -> None:
    row = room()
    tank = reservoir(row, 270.0)
    page = _page(state(row, tank), span=values.SPANS[1], means={8: np.full(7 * 24, 270.0)})
    assert page.levels[0].unit == "l"
    assert page.levels[0].summary == "East: 53 to 53 l, last 53 l"


def test_alarms_and_work_are_marked_on_the_charts_they_are_about() -> None:
    row = room()
    tank = reservoir(row, 270.0)
    made = state(row, tank, container(row, 100.0))
    entry = Entry(uuid4(), "refilled", "reservoir", tank.id, row.id, NOW - timedelta(hours=2), "Mara")
    explained = alarm(row, state="suppressed-by-design")
    page = _page(made, alarms=[alarm(row), explained], work=[Judged(entry)])
    assert [mark.text for mark in page.tension.marks] == ["Refilled the reservoir: East", "Drying out: Pot 1"]
    assert [mark.kind for mark in page.levels[0].marks] == ["work"]
    assert [(one.what, one.subject, one.person) for one in page.work] == [("Refilled the reservoir", "East", "Mara")]


def test_table_script_and_file_hold_the_same_numbers_as_the_chart() -> None:
    row = room()
    pot = container(row, 100.0)
    made = state(row, pot)
    shown = values.window(values.SPANS[0], NOW)
    means = {7: np.full(shown.count, np.nan)}
    means[7][[0, 1, 5]] = (100.0, 101.0, 105.0)
    table = values.table(made, shown, means, NOW)
    assert table.heads == ("Pot 1, mbar",)
    assert [cells for _, cells in table.rows] == [("105.0",), ("101.0",), ("100.0",)]
    told: Any = chart_data([tension_figure(made, shown, means)], NOW)
    (line,) = told["figures"]["tension"]["lines"]
    assert line["id"] == str(pot.id)
    assert line["values"][:6] == [100.0, 101.0, None, None, None, 105.0]
    assert told["times"][0] == (shown.start + shown.every / 2).timestamp()
    lines = values.csv_text(made, shown, means).splitlines()
    assert lines[0] == 'from,"Pot 1, mbar"'
    assert [line.partition(",")[2] for line in lines[1:]] == ["100.00", "101.00", "105.00"]


def test_a_viewer_is_offered_no_work_to_record() -> None:
    made = state(room())
    assert _page(made, may_act=False).work_form is None


def test_what_is_out_of_service_is_named_as_people_know_it_and_only_growers_may_change_it() -> None:
    row = room()
    pot = container(row, 100.0, "Pot 1")
    made = state(row, pot)
    urn, until = "urn:dev:mac:0024befffe804ff1", NOW + timedelta(hours=2)
    periods = [
        Period(row.id, "device", pot.id, urn, NOW, until, "new battery"),
        Period(row.id, "room", row.id, row.name, NOW, until),
        Period(row.id, "container", pot.id, "Pot 1", NOW, until),
    ]
    listed = [Listed(each, row.facility_id, "birchwood", row.id, row.slug, "Ane") for each in periods]
    shown = service_part(made, listed, [Device(urn, "Pot 1")], NOW, True)
    assert [one.what for one in shown.out] == [
        "Probe or sensor Pot 1 (804ff1)", f"All of {row.name}", "Container Pot 1",
    ]  # fmt: skip
    values_offered = [one.value for _, group in shown.choices for one in group]
    assert values_offered == [f"container:{pot.id}", f"device:{urn}", f"room:{row.id}"]
    assert service_part(made, listed, [], NOW, False).choices == ()
