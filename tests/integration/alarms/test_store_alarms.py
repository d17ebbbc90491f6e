"""What the database keeps of alarms is what the step said, and of two people at once one wins."""

from __future__ import annotations

import random
import threading
from collections.abc import Iterator
from datetime import timedelta

import psycopg
import pytest

from tests.integration.alarms.house import HERE, build, connect, person, rows, sweep
from tests.unit.alarms.places import GATEWAY, HOUSE, START, Watch, found, judged, line, named, pot, reservoir, work
from wickwatch.alarms import ACTS, Act, Duty, apply, replay
from wickwatch.errors import InputError, RefusedError
from wickwatch.store import alarms
from wickwatch.store.connect import Connection

EMPTY = found("reservoir-empty", reservoir())
DRY = found("drying-drift", pot(), harm_at=START + timedelta(days=2), explained_by=(("probe-fault", pot().id),))
NOW = START + timedelta(minutes=3)


@pytest.fixture
def conn(database_url: str) -> Iterator[Connection]:
    with connect(database_url) as connection:
        build(connection)
        yield connection


def test_book_and_journal_come_back_as_they_were_saved_through_a_random_life(conn: Connection) -> None:
    chance = random.Random(7)
    people = [person(conn, "First"), person(conn, "Second")]
    watch = Watch()
    watch.duty = Duty()
    findings = [EMPTY, DRY, found("supply-interrupted", line()), found("gateway-silent", GATEWAY, room=None)]
    holding = set(range(len(findings)))
    minute = 0
    for _ in range(120):
        minute += chance.choice((1, 7, 45, 250))
        holding ^= {each for each in range(len(findings)) if chance.random() < 0.1}
        judgement = judged(minute, *(findings[each] for each in sorted(holding)))
        assert sweep(conn, judgement) == watch.sweep(judgement)
        if watch.book.alarms and chance.random() < 0.3:
            alarm = chance.choice(sorted(watch.book.alarms.values(), key=lambda each: each.key))
            at = START + timedelta(minutes=minute)
            name = chance.choice(ACTS)
            act = Act(name, at + timedelta(hours=2) if name in ("shelve", "take-out-of-service") else None)
            who = chance.choice(people)
            try:
                expected, _ = apply(alarm, act, who, at)
            except RefusedError:
                with pytest.raises(RefusedError):
                    alarms.apply_event(conn, alarm.id, act, who, at, HERE)
            else:
                assert alarms.apply_event(conn, alarm.id, act, who, at, HERE) == expected
                watch.put(expected)
        book = alarms.load_book(conn, HOUSE.id, START + timedelta(minutes=minute))
        assert (book.conditions, book.alarms) == (watch.book.conditions, watch.book.alarms)
        assert book.ended_causes.keys() == watch.book.ended_causes.keys()
    assert len(watch.all) > 10
    for alarm in watch.all.values():
        stored, journal = alarms.one(conn, alarm.id, HERE)
        assert stored == alarm == replay(journal)


def test_of_two_people_at_once_one_says_mine_and_the_other_is_told_who(conn: Connection, database_url: str) -> None:
    people = {name: person(conn, name) for name in ("Ane", "Bo")}
    sweep(conn, judged(0, EMPTY))
    (alarm,) = sweep(conn, judged(1, EMPTY)).alarms
    ready, told = threading.Barrier(2), {}

    def answer(name: str) -> None:
        with connect(database_url) as own:
            ready.wait()
            try:
                with own.transaction():
                    alarms.apply_event(own, alarm.id, Act("acknowledge"), people[name], NOW, HERE)
                told[name] = "mine"
            except RefusedError as error:
                told[name] = str(error)

    threads = [threading.Thread(target=answer, args=(name,)) for name in people]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    (winner,) = [name for name, text in told.items() if text == "mine"]
    (loser,) = [name for name in people if name != winner]
    assert told[loser] == f"R3 east: {winner} has already acknowledged this alarm"
    stored, journal = alarms.one(conn, alarm.id, HERE)
    assert (stored.acknowledged_by, [entry.event for entry in journal]) == (people[winner], ["raised", "acknowledged"])


def test_an_answer_during_a_step_waits_for_it_and_neither_is_lost(conn: Connection, database_url: str) -> None:
    who = person(conn, "Ane")
    sweep(conn, judged(0, EMPTY))
    (alarm,) = sweep(conn, judged(1, EMPTY)).alarms
    sweep(conn, judged(2))
    done = threading.Event()

    def answer() -> None:
        with connect(database_url) as own:
            alarms.apply_event(own, alarm.id, Act("acknowledge"), who, NOW, HERE)
            done.set()

    with conn.transaction():
        alarms.load_book(conn, HOUSE.id, NOW)
        thread = threading.Thread(target=answer)
        thread.start()
        assert not done.wait(0.2), "the row is locked until the step is committed"
        sweep(conn, judged(7))
    thread.join()
    stored, journal = alarms.one(conn, alarm.id, HERE)
    assert stored.state == "normal"
    assert [(entry.event, entry.version) for entry in journal] == [("raised", 1), ("cleared", 2), ("acknowledged", 3)]


def test_an_alarm_of_another_facility_does_not_exist(conn: Connection) -> None:
    sweep(conn, judged(0, EMPTY))
    (alarm,) = sweep(conn, judged(1, EMPTY)).alarms
    nobody = named("nobody")
    for facilities in ([], [named("another facility")]):
        with pytest.raises(InputError, match="a facility you may see") as guessed:
            alarms.one(conn, alarm.id, facilities)
        with pytest.raises(InputError) as unknown:
            alarms.one(conn, nobody, facilities)
        assert str(guessed.value).replace(str(alarm.id), "") == str(unknown.value).replace(str(nobody), "")
        with pytest.raises(InputError):
            alarms.apply_event(conn, alarm.id, Act("acknowledge"), None, NOW, facilities)


def test_the_database_holds_one_open_alarm_of_a_kind_and_subject(conn: Connection) -> None:
    sweep(conn, judged(0, EMPTY))
    changes = sweep(conn, judged(1, EMPTY))
    twin = changes.alarms[0]
    with pytest.raises(psycopg.errors.UniqueViolation), conn.transaction():
        conn.execute(
            "INSERT INTO alarm (id, facility_id, kind, subject_type, subject_id, subject_name, priority, state,"
            " condition_present, raised_at, message, evidence)"
            " VALUES (%s, %s, %s, 'reservoir', %s, 'R3 east', 'high', 'unacknowledged', true, now(), '', '{}')",
            (named("twin"), HOUSE.id, twin.kind, twin.subject.id),
        )
    with pytest.raises(psycopg.errors.UniqueViolation), conn.transaction():
        alarms.save(conn, HOUSE.id, changes)  # the same step written twice: its journal entry is taken


def test_the_journal_can_neither_be_changed_nor_deleted(conn: Connection) -> None:
    sweep(conn, judged(0, EMPTY))
    sweep(conn, judged(1, EMPTY))
    for statement in ("UPDATE alarm_journal SET event = 'cleared'", "DELETE FROM alarm_journal"):
        with pytest.raises(psycopg.errors.RestrictViolation, match="append-only"):
            rows(conn, statement)


def test_a_step_that_fails_leaves_nothing(conn: Connection) -> None:
    sweep(conn, judged(0, EMPTY))
    before = alarms.load_book(conn, HOUSE.id, NOW)
    with pytest.raises(ZeroDivisionError), conn.transaction():
        sweep(conn, judged(1, EMPTY))
        raise ZeroDivisionError
    assert alarms.load_book(conn, HOUSE.id, NOW) == before
    assert rows(conn, "SELECT count(*) FROM alarm_journal") == [(0,)]


def test_whoever_listens_is_told_of_a_change_when_it_is_committed(conn: Connection, database_url: str) -> None:
    with connect(database_url) as listener:
        listener.execute(f"LISTEN {alarms.CHANGED}")
        sweep(conn, judged(0, EMPTY))
        sweep(conn, judged(1, EMPTY))
        (told,) = list(listener.notifies(timeout=5, stop_after=1))
    assert told.payload == str(HOUSE.id)


def test_how_it_ended_tells_the_work_that_was_recorded(conn: Connection) -> None:
    sweep(conn, judged(0, EMPTY))
    (alarm,) = sweep(conn, judged(1, EMPTY)).alarms
    refill = (work("refilled", reservoir(), 10),)
    sweep(conn, judged(15), refill)
    sweep(conn, judged(20), refill)
    stored, _ = alarms.one(conn, alarm.id, HERE)
    assert stored.outcome == "Water again 5 min after the refill; it lasted 15 min."
