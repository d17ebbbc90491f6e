"""Who is on duty, who stands in, and what was done."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta

import psycopg
import pytest

from tests.integration.alarms.house import HERE, build, connect, person, rows, sweep, utc
from tests.unit.alarms.places import GATEWAY, HOUSE, START, found, judged, named, pot, reservoir, room_id
from wickwatch.errors import InputError
from wickwatch.store import contacts, rota, work
from wickwatch.store.connect import Connection

NOW = START


@pytest.fixture
def conn(database_url: str) -> Iterator[Connection]:
    with connect(database_url) as connection:
        build(connection)
        yield connection


def test_duty_follows_turns_to_the_second_and_steps_come_in_order(conn: Connection) -> None:
    ane, bo = person(conn, "Ane"), person(conn, "Bo")
    for who, name in ((ane, "ane"), (bo, "bo")):
        contacts.add(conn, who, "email", f"{name}@example.org")
    handover = utc(2026, 11, 20, 6)
    rota.add_turn(conn, HOUSE.id, 1, ane, handover - timedelta(days=7), handover)
    rota.add_turn(conn, HOUSE.id, 1, bo, handover, None)
    rota.add_turn(conn, HOUSE.id, 2, ane, handover, handover + timedelta(days=7))
    before = rota.on_duty(conn, HOUSE.id, handover - timedelta(seconds=1))
    assert [(each.step, each.name) for each in before.people] == [(1, "Ane")]
    after = rota.on_duty(conn, HOUSE.id, handover)
    assert [(each.step, each.name) for each in after.people] == [(1, "Bo"), (2, "Ane")]
    assert [each.name for each in after.first] == ["Bo"] and not after.fallback


def test_two_people_cannot_be_on_duty_at_one_step(conn: Connection) -> None:
    ane, bo = person(conn, "Ane"), person(conn, "Bo")
    first = rota.add_turn(conn, HOUSE.id, 1, ane, START, START + timedelta(days=7))
    with pytest.raises(InputError, match="nobody else is on duty at step 1"):
        rota.add_turn(conn, HOUSE.id, 1, bo, START + timedelta(days=6), None)
    rota.remove_turn(conn, HOUSE.id, first)
    rota.add_turn(conn, HOUSE.id, 1, bo, START + timedelta(days=6), None)
    (turn,) = rota.turns(conn, HOUSE.id, START, START + timedelta(days=30))
    assert (turn.name, turn.start, turn.end) == ("Bo", START + timedelta(days=6), None)
    with pytest.raises(InputError, match="the id of a turn"):
        rota.remove_turn(conn, named("another facility"), turn.id)
    with pytest.raises(InputError, match="a time after its start"):
        rota.add_turn(conn, HOUSE.id, 2, bo, START, START)
    with pytest.raises(InputError, match="1 for who is called first"):
        rota.add_turn(conn, HOUSE.id, 0, bo, START, None)


def test_contacts_are_tried_in_the_order_they_were_given_and_removed_ones_are_not(conn: Connection) -> None:
    ane = person(conn, "Ane")
    rota.add_turn(conn, HOUSE.id, 1, ane, START, None)
    mail = contacts.add(conn, ane, "email", " ane@example.org ")
    contacts.add(conn, ane, "webhook", "https://example.org/hook")
    assert [each.address for each in rota.on_duty(conn, HOUSE.id, START).first[0].contacts] == [
        "ane@example.org",
        "https://example.org/hook",
    ]
    contacts.remove(conn, ane, mail, NOW)
    assert [each.way for each in contacts.of_person(conn, ane)] == ["webhook"]
    contacts.add(conn, ane, "email", "other@example.org")
    assert [each.way for each in contacts.of_person(conn, ane)] == ["webhook", "email"]
    with pytest.raises(InputError, match="a contact of this person"):
        contacts.remove(conn, ane, mail, NOW)
    ((secret,),) = rows(conn, "SELECT secret FROM contact WHERE way = 'webhook'")
    assert secret.startswith("whsec_")


NOT_CONTACTS = [
    ("email", "nobody"),
    ("email", "a b@example.org"),
    ("email", "a@example.org\nBcc: b@example.org"),
    ("email", "a@" + "x" * 260),
    ("webhook", "ftp://example.org/"),
    ("webhook", "javascript:alert(1)"),
    ("webhook", "https://"),
    ("pigeon", "loft 3"),
]


def test_a_contact_that_cannot_work_is_refused(conn: Connection) -> None:
    ane = person(conn, "Ane")
    for way, address in NOT_CONTACTS:
        with pytest.raises(InputError):
            contacts.add(conn, ane, way, address)
    for secret in ("short", "whsec_c2hvcnQ=", "whsec_no base64 at all!"):
        with pytest.raises(InputError, match="24 to 64 bytes") as refused:
            contacts.add(conn, ane, "webhook", "https://example.org/", secret)
        assert secret not in str(refused.value)
    assert contacts.of_person(conn, ane) == []


def test_without_anybody_on_duty_the_managers_who_can_be_reached_are_called(conn: Connection) -> None:
    boss, owner = person(conn, "Boss", "manager"), person(conn, "Owner", "administrator", None)
    for who, name in ((boss, "boss"), (owner, "owner"), (person(conn, "Ane"), "ane")):
        contacts.add(conn, who, "email", f"{name}@example.org")
    person(conn, "Unreachable", "manager")
    gone = person(conn, "Gone", "manager")
    contacts.add(conn, gone, "email", "gone@example.org")
    conn.execute("UPDATE person SET disabled_at = now() WHERE id = %s", (gone,))
    duty = rota.on_duty(conn, HOUSE.id, START)
    assert duty.fallback and {each.name for each in duty.first} == {"Boss", "Owner"}
    assert rota.uncovered(conn, START) == [("birchwood", True)]
    changes = sweep(conn, judged(0, found("sudden-wetting", pot())))
    assert len(changes.alarms) == 1
    bodies = rows(conn, "SELECT body FROM notice")
    assert len(bodies) == 2 and all("Nobody is on duty" in body for (body,) in bodies)


def test_somebody_on_duty_who_cannot_be_reached_does_not_silence_the_managers(conn: Connection) -> None:
    boss, ane = person(conn, "Boss", "manager"), person(conn, "Ane")
    contacts.add(conn, boss, "email", "boss@example.org")
    rota.add_turn(conn, HOUSE.id, 1, ane, START, None)
    duty = rota.on_duty(conn, HOUSE.id, START)
    assert duty.fallback and [each.name for each in duty.first] == ["Boss"]
    contacts.add(conn, ane, "email", "ane@example.org")
    assert not rota.on_duty(conn, HOUSE.id, START).fallback
    assert rota.uncovered(conn, START) == []


def test_a_facility_that_reaches_nobody_at_all_is_named(conn: Connection) -> None:
    assert rota.on_duty(conn, HOUSE.id, START).first == ()
    assert rota.uncovered(conn, START) == [("birchwood", False)]


def test_a_work_entry_knows_its_room_and_its_person_and_comes_back_in_order(conn: Connection) -> None:
    ane = person(conn, "Ane")
    done = ((-5, "refilled", reservoir()), (-90, "re-set-emitter", pot()), (-20, "checked", GATEWAY))
    for minute, kind, subject in done:
        at = NOW + timedelta(minutes=minute)
        about = {"kind": kind, "subject_type": subject.type, "subject_id": subject.id}
        work.add(conn, HERE, **about, at=at, now=NOW, person_id=ane, note="done")  # type: ignore[arg-type]
    entries = work.recent(conn, HOUSE.id, NOW - timedelta(hours=1))
    assert [(each.kind, each.room_id, each.person, each.note) for each in entries] == [
        ("checked", None, "Ane", "done"),
        ("refilled", room_id(), "Ane", "done"),
    ]
    assert entries[0].written_at == NOW and entries[0].at == NOW - timedelta(minutes=20)
    assert len(work.recent(conn, HOUSE.id, NOW - timedelta(hours=2))) == 3


def test_work_can_be_recorded_from_an_alarm_of_the_same_facility_only(conn: Connection) -> None:
    (alarm,) = sweep(conn, judged(0, found("sudden-wetting", pot()))).alarms
    about = {"subject_type": "container", "subject_id": pot().id, "at": NOW, "now": NOW, "kind": "re-set-emitter"}
    assert work.add(conn, HERE, alarm_id=alarm.id, **about).alarm_id == alarm.id  # type: ignore[arg-type]
    with pytest.raises(InputError, match="an alarm of the same facility"):
        work.add(conn, HERE, alarm_id=named("another alarm"), **about)  # type: ignore[arg-type]


NOT_WORK: list[tuple[dict[str, object], str]] = [
    ({"kind": "sang to it"}, "kind of work"),
    ({"kind": "refilled"}, "subject of refilled"),
    ({"subject_id": named("nothing")}, "a container of a facility you may see"),
    ({"subject_type": "room"}, "subject of re-set-emitter"),
    ({"at": NOW + timedelta(minutes=6)}, "in the last 30 days"),
    ({"at": NOW - timedelta(days=31)}, "in the last 30 days"),
    ({"at": NOW.replace(tzinfo=None)}, "a time with its zone"),
    ({"note": "x" * 2001}, "at most 2000 characters"),
    ({"note": "a\x00b"}, "at most 2000 characters"),
]


def test_work_that_cannot_be_is_refused_saying_what_is_accepted(conn: Connection) -> None:
    about = {"kind": "re-set-emitter", "subject_type": "container", "subject_id": pot().id}
    for given, said in NOT_WORK:
        with pytest.raises(InputError, match=said):
            work.add(conn, HERE, **(about | {"at": NOW, "now": NOW} | given))  # type: ignore[arg-type]
    assert work.recent(conn, HOUSE.id, NOW - timedelta(days=60)) == []


def test_work_on_another_facilitys_pot_is_refused_as_if_there_were_none(conn: Connection) -> None:
    with pytest.raises(InputError, match="a facility you may see"):
        work.add(
            conn, [named("another")], kind="checked", subject_type="container", subject_id=pot().id, at=NOW, now=NOW
        )  # fmt: skip


def test_work_entries_can_neither_be_changed_nor_deleted(conn: Connection) -> None:
    work.add(conn, HERE, kind="checked", subject_type="room", subject_id=room_id(), at=NOW, now=NOW)
    for statement in ("UPDATE work_entry SET note = ''", "DELETE FROM work_entry"):
        with pytest.raises(psycopg.errors.RestrictViolation, match="append-only"):
            rows(conn, statement)
