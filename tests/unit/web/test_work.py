"""What a form for work offers."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from uuid import uuid4

from tests.unit.web import rows
from tests.unit.web.rows import NOW
from wickwatch.fleet import WORK_KINDS
from wickwatch.store.pages import LineRow
from wickwatch.web.views import words
from wickwatch.web.views.work import AGO, form_of_alarm, form_of_room


def test_every_kind_of_work_has_its_words() -> None:
    assert set(words.WORK) == set(WORK_KINDS)
    assert set(words.USUAL_WORK.values()) <= set(WORK_KINDS)


def test_an_alarms_form_offers_first_what_such_an_alarm_usually_needs() -> None:
    def first(kind: str) -> str:
        return form_of_alarm(rows.alarm(rows.room(), kind=kind), None, NOW).kinds[0][1][0].label

    assert first("probe-silent") == "Replaced the probe or its battery"
    assert first("drying-drift") == "Re-set the emitter"


def test_about_a_dry_pot_its_line_and_reservoir_can_have_been_worked_on_too() -> None:
    room = rows.room()
    tank = rows.reservoir(room, 300.0)
    line = LineRow(room.id, uuid4(), "loop", "Loop", tank.id, "loop")
    pot = replace(rows.container(room, 200.0), line_id=line.id)
    state = replace(rows.state(room, pot, tank), lines=(line,))
    form = form_of_alarm(rows.alarm(room, subject_id=pot.id), state, NOW)
    assert [label for label, _ in form.kinds] == ["Pot 1", "Loop", "East"]
    offered = {choice.value for _, listed in form.kinds for choice in listed}
    assert {f"re-set-emitter:container:{pot.id}", f"purged:line:{line.id}", f"refilled:reservoir:{tank.id}"} <= offered
    empty = form_of_alarm(rows.alarm(room, subject_type="reservoir", subject_id=tank.id), state, NOW)
    assert [label for label, _ in empty.kinds][1:] == ["Loop"]


def test_an_alarm_about_a_whole_facility_offers_no_work() -> None:
    assert form_of_alarm(rows.alarm(None, subject_type="facility"), None, NOW).kinds == ()


def test_a_rooms_form_offers_all_that_stands_in_it_and_bounds_the_time_by_the_facilitys_clock() -> None:
    room = rows.room()
    form = form_of_room(rows.state(room, rows.container(room, 100.0), rows.reservoir(room, 300.0)), NOW)
    assert [label for label, _ in form.subjects] == ["Reservoirs", "Containers", "Room"]
    assert len(form.kinds[0][1]) == len(WORK_KINDS)
    assert (form.earliest, form.latest, form.zone) == ("2026-10-26T10:31", "2026-11-25T10:30", "Europe/Oslo")
    assert [timedelta(minutes=int(one.value)) for one in form.agos] == [timedelta(minutes=each) for each in AGO]
