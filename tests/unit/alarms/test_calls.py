"""From changes and duty to notices: who, over what, with which words."""

from __future__ import annotations

import json
from datetime import timedelta

from tests.unit.alarms.places import HOUSE, START, Watch, drafts, found, named, pot, reservoir
from wickwatch.alarms import Contact, Duty, NoticeDraft, OnDuty, as_json

MAIL = Contact(named("mail"), "email", "first@example.org")
HOOK = Contact(named("hook"), "webhook", "https://example.org/hook")
FIRST = OnDuty(1, named("first"), "First", (MAIL, HOOK))
SECOND = OnDuty(2, named("second"), "Second", (Contact(named("other mail"), "email", "second@example.org"),))
EMPTY = found("reservoir-empty", reservoir())


def empty_reservoir(duty: Duty) -> tuple[Watch, list[NoticeDraft]]:
    watch = Watch()
    watch.sweeps(0, 1, EMPTY)
    return watch, drafts(watch.last, duty, "https://house.example.org/", HOUSE)


def test_a_call_goes_to_the_first_contact_of_who_is_called_first() -> None:
    watch, sent = empty_reservoir(Duty((FIRST, SECOND)))
    (draft,) = sent
    alarm = watch.only("reservoir-empty")
    assert (draft.person_id, draft.contact_id, draft.way, draft.address) == (
        FIRST.person_id,
        MAIL.id,
        "email",
        MAIL.address,
    )
    assert draft.key == f"{alarm.id}:1:{MAIL.id}"
    assert draft.payload == as_json(alarm, HOUSE) | {"link": f"https://house.example.org/alarms/{alarm.id}"}
    assert draft.expires_at - draft.created_at == timedelta(hours=6)
    json.dumps(draft.payload)


def test_the_text_names_room_subject_number_first_steps_and_the_link() -> None:
    watch, (draft,) = empty_reservoir(Duty((FIRST,)))
    alarm = watch.only("reservoir-empty")
    assert draft.title == "High: reservoir empty, R3 east, Room 3"
    lines = draft.body.split("\n")
    assert (
        lines[0]
        == alarm.message
        == "R3 east in Room 3 is empty: 12 mm of water, 70 mm needed, since 05:00; 2 containers have no water."
    )
    assert "1. Refill the reservoir." in lines
    assert f"https://house.example.org/alarms/{alarm.id}" in lines
    assert draft.body.index("Beware") < draft.body.index("What to do")
    assert "Nobody is on duty" not in draft.body


def test_without_anybody_at_the_first_step_the_next_one_is_called() -> None:
    _, sent = empty_reservoir(Duty((OnDuty(1, named("first"), "First", ()), SECOND)))
    assert [draft.person_id for draft in sent] == [SECOND.person_id]


def test_managers_standing_in_are_all_called_and_told_why() -> None:
    stand_in = Duty((FIRST, OnDuty(1, named("third"), "Third", SECOND.contacts)), fallback=True)
    _, sent = empty_reservoir(stand_in)
    assert [draft.person_id for draft in sent] == [named("first"), named("third")]
    assert all("Nobody is on duty at Birchwood House who can be reached" in draft.body for draft in sent)


def test_with_nobody_at_all_there_is_no_notice() -> None:
    assert empty_reservoir(Duty())[1] == []
    assert empty_reservoir(Duty(fallback=True))[1] == []


def test_a_second_sweep_calls_nobody() -> None:
    watch, _ = empty_reservoir(Duty((FIRST,)))
    watch.sweeps(2, 30, EMPTY)
    assert drafts(watch.last, Duty((FIRST,)), "http://x", HOUSE) == []


def test_a_call_that_is_not_the_first_says_why_it_comes_again() -> None:
    watch = Watch()
    watch.sweeps(0, 10, found("drying-drift", pot(), harm_at=START + timedelta(days=2)))
    watch.sweeps(11, 12, found("drying-drift", pot(), harm_at=START + timedelta(hours=2)))
    assert watch.last.journal == ()
    watch = Watch()
    watch.sweeps(0, 10, found("drying-drift", pot(), harm_at=START + timedelta(days=2)))
    watch.sweeps(11, 11, found("drying-drift", pot(), harm_at=START + timedelta(hours=2)))
    (draft,) = drafts(watch.last, Duty((FIRST,)), "http://x", HOUSE)
    assert draft.title == "Medium: drying drift, Pot 1, Room 3 (worse now)"
    assert draft.key.split(":")[1] == "2"


def test_the_json_of_an_alarm_is_the_contracts() -> None:
    watch, _ = empty_reservoir(Duty())
    alarm = watch.only("reservoir-empty")
    shown = as_json(alarm, HOUSE)
    # Section 5 of the public contract names these keys; more may be added.
    contract = {
        "id": str(alarm.id),
        "kind": "reservoir-empty",
        "priority": "high",
        "state": "unacknowledged",
        "facility": "birchwood",
        "room": "room-03",
        "subject": {"type": "reservoir", "id": str(reservoir().id), "name": "R3 east"},
        "raised_at": "2026-11-20T04:01:00Z",
        "acknowledged_at": None,
        "cleared_at": None,
        "message": alarm.message,
        "evidence": {"level_mm": 12.0, "empty_level_mm": 70.0, "containers": 2},
        "cause": None,
        "suppressed": False,
    }
    assert {name: shown[name] for name in contract} == contract
    steps = shown["advice"]
    assert isinstance(steps, list) and steps[0] == "Refill the reservoir."


def test_the_json_of_an_explained_alarm_names_its_cause() -> None:
    watch = Watch()
    watch.sweeps(0, 20, EMPTY, found("drying-drift", pot()))
    shown = as_json(watch.only("drying-drift"), HOUSE)
    assert (shown["suppressed"], shown["state"]) == (True, "suppressed-by-design")
    assert shown["cause"] == str(watch.only("reservoir-empty").id)


def test_the_ladder_names_each_step_once_then_the_managers_and_nobody_twice() -> None:
    boss = OnDuty(1, named("boss"), "Boss", (Contact(named("boss mail"), "email", "boss@example.org"),))
    away = OnDuty(2, named("away"), "Away", ())
    again = OnDuty(3, FIRST.person_id, "First", FIRST.contacts)
    third = OnDuty(4, named("third"), "Third", SECOND.contacts)
    duty = Duty((again, third, FIRST, away), managers=(OnDuty(1, third.person_id, "Third", third.contacts), boss))
    assert duty.ladder == ((FIRST,), (third,), (boss,))
    assert Duty((away,)).ladder == ()


def test_each_rung_has_the_time_its_facility_gives_its_step_to_answer() -> None:
    away = OnDuty(2, named("away"), "Away", ())
    third = OnDuty(3, named("third"), "Third", SECOND.contacts)
    duty = Duty((FIRST, away, third), answer_within={2: timedelta(minutes=1), 3: timedelta(minutes=25)})
    assert duty.waits == (timedelta(minutes=10), timedelta(minutes=25))
