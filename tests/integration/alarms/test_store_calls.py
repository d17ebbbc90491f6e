"""Calls through the database: the ladder climbed, a flood gathered, parts out of service, and the past rebuilt."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta

import pytest

from tests.integration.alarms.house import HERE, build, connect, on_call, person, rows, sweep
from tests.unit.alarms.places import HOUSE, START, found, judged, named, pot, reservoir
from wickwatch.alarms import Act
from wickwatch.detect.finding import Finding, Judgement
from wickwatch.errors import InputError, RefusedError
from wickwatch.fleet import Container, Subject
from wickwatch.store import alarms, contacts, notices, past, rota, service
from wickwatch.store.connect import Connection

MINUTE = timedelta(minutes=1)
EMPTY = found("reservoir-empty", reservoir())
WET = found("sudden-wetting", pot())
NOTICES = (
    "SELECT p.name, n.title, n.state FROM notice n JOIN person p ON p.id = n.person_id ORDER BY n.created_at, p.name"
)


@pytest.fixture
def conn(plain_url: str) -> Iterator[Connection]:
    with connect(plain_url) as connection:
        build(connection)
        yield connection


def ladder(conn: Connection) -> None:
    """Ane is called first, Bo second, and the boss at last."""
    on_call(conn, "Ane", "email", "ane@example.org")
    for step, name, role in ((2, "Bo", "grower"), (None, "Boss", "manager")):
        who = person(conn, name, role)
        contacts.add(conn, who, "email", f"{name}@example.org")
        if step:
            rota.add_turn(conn, HOUSE.id, step, who, START - timedelta(days=9), None)


#: The house with forty pots on its line.
POTS = [replace(pot(), id=named(f"flood {number}"), name=f"Pot {number}") for number in range(40)]


def many_wet(minute: float, pots: list[Subject]) -> Judgement:
    return judged(minute, *(found("sudden-wetting", each) for each in pots))


def place(pots: list[Subject]):  # type: ignore[no-untyped-def]
    room = HOUSE.rooms[0]
    more = tuple(
        Container(each.id, each.name.lower(), each.name, None, 20, "peat", 1, room.rules, None) for each in pots
    )
    return replace(HOUSE, rooms=(replace(room, containers=room.containers + more), *HOUSE.rooms[1:]))


def test_nobody_answering_calls_the_second_then_the_manager_and_mine_stops_it(conn: Connection) -> None:
    ladder(conn)
    for minute in range(16):
        sweep(conn, judged(minute, EMPTY))
    assert [(name, title.endswith("(nobody has it yet)")) for name, title, _ in rows(conn, NOTICES)] == [
        ("Ane", False), ("Bo", True),
    ]  # fmt: skip
    (alarm,) = alarms.standing(conn, HOUSE.id)
    alarms.apply_event(conn, alarm.id, Act("acknowledge"), named("Bo"), START + 16 * MINUTE, HERE)
    for minute in range(17, 60):
        sweep(conn, judged(minute, EMPTY))
    assert len(rows(conn, NOTICES)) == 2
    assert rows(conn, "SELECT rung, state FROM alarm_call ORDER BY at") == [(1, "single"), (2, "single")]


def test_who_takes_over_is_called_once_for_all_that_nobody_has_answered(conn: Connection) -> None:
    ladder(conn)
    conn.execute("DELETE FROM rota_turn")
    hour = START + 60 * MINUTE
    for number, name in enumerate(("Ane", "Bo", "Ane")):
        begin = hour + (number - 1) * 60 * MINUTE
        rota.add_turn(conn, HOUSE.id, 1, named(name), begin, begin + 60 * MINUTE)
    answered = found("sudden-wetting", pot(2))
    for minute in range(0, 125):
        sweep(conn, judged(minute, EMPTY, WET, answered))
        if minute == 5:
            theirs = next(each for each in alarms.standing(conn, HOUSE.id) if each.subject.name == "Pot 2")
            alarms.apply_event(conn, theirs.id, Act("acknowledge"), named("Ane"), START + 5 * MINUTE, HERE)
    told = [(name, title.split(",")[0]) for name, title, _ in rows(conn, NOTICES)]
    assert told[-1] == ("Bo", "High: 2 alarms")
    assert sorted(name for name, _ in told) == ["Ane", "Ane", "Bo", "Boss", "Boss"], "not Ane again, in her next turn"
    ((body,),) = rows(conn, "SELECT body FROM notice ORDER BY created_at DESC LIMIT 1")
    assert body.startswith("It is yours to answer now.")
    notices.tidy(conn, START + 130 * MINUTE)
    for alarm in alarms.standing(conn, HOUSE.id):
        if alarm.state == "unacknowledged":
            alarms.apply_event(conn, alarm.id, Act("acknowledge"), named("Bo"), START + 130 * MINUTE, HERE)
    notices.tidy(conn, START + 131 * MINUTE)
    assert {state for *_, state in rows(conn, NOTICES)} == {"withdrawn"}


def test_a_flood_is_one_message_and_what_follows_is_gathered_and_nothing_is_lost(conn: Connection) -> None:
    on_call(conn, "Ane", "email", "ane@example.org")
    here = place(POTS)
    sweep(conn, many_wet(0, POTS[:20]), place=here)
    assert [title for _, title, _ in rows(conn, NOTICES)] == [
        "High: 20 alarms, the worst: sudden wetting, Pot 0, Room 3".replace("Pot 0", worst(conn))
    ]
    for half in range(1, 8):
        sweep(conn, many_wet(half / 2, POTS[: 20 + half]), place=here)
    assert len(rows(conn, NOTICES)) == 1
    waiting = rows(conn, "SELECT count(*) FROM alarm_call WHERE state = 'waiting'")
    assert waiting == [(7,)]
    sweep(conn, many_wet(5, POTS[:27]), place=here)
    assert [title.split(",")[0] for _, title, _ in rows(conn, NOTICES)] == ["High: 20 alarms", "High: 7 alarms"]
    told = rows(conn, "SELECT count(DISTINCT alarm_id), count(*) FROM alarm_call WHERE left_at IS NOT NULL")
    assert told == [(27, 27)]


def worst(conn: Connection) -> str:
    """Of alarms alike in all else the one with the first id is named."""
    return str(rows(conn, 'SELECT subject_name FROM alarm ORDER BY id::text COLLATE "C" LIMIT 1')[0][0])


def test_what_was_answered_while_it_waited_is_not_told_and_an_answered_summary_is_withdrawn(
    conn: Connection,
) -> None:
    ane = on_call(conn, "Ane", "email", "ane@example.org")
    here = place(POTS)
    sweep(conn, many_wet(0, POTS[:12]), place=here)
    sweep(conn, many_wet(1, POTS[:13]), place=here)
    first = alarms.standing(conn, HOUSE.id)
    for alarm in first[:-1]:
        alarms.apply_event(conn, alarm.id, Act("acknowledge"), ane, START + 2 * MINUTE, HERE)
    notices.tidy(conn, START + 3 * MINUTE)
    assert [state for *_, state in rows(conn, NOTICES)] == ["queued"], "one of its alarms still wants an answer"
    alarms.apply_event(conn, first[-1].id, Act("acknowledge"), ane, START + 3 * MINUTE, HERE)
    assert notices.claim(conn, START + 4 * MINUTE, "email", 2 * MINUTE) is None
    notices.tidy(conn, START + 4 * MINUTE)
    assert [state for *_, state in rows(conn, NOTICES)] == ["withdrawn"]
    for minute in range(4, 20):
        sweep(conn, many_wet(minute, POTS[:13]), place=here)
    assert rows(conn, "SELECT state, count(*) FROM alarm_call GROUP BY 1 ORDER BY 1") == [
        ("dropped", 1), ("summary", 12),
    ]  # fmt: skip


def test_a_part_out_of_service_calls_nobody_until_its_end_and_then_for_what_still_holds(conn: Connection) -> None:
    ane = on_call(conn, "Ane", "email", "ane@example.org")
    until = START + 30 * MINUTE
    listed = service.add(
        conn, HERE, type="line", part=str(HOUSE.rooms[0].lines[0].id), until=until, now=START, person_id=ane, note="new"
    )
    assert (listed.period.name, listed.facility, listed.room, listed.person) == (
        "r3-loop",
        "birchwood",
        "room-03",
        "Ane",
    )
    for minute in range(30):
        sweep(conn, judged(minute, WET))
    (alarm,) = alarms.standing(conn, HOUSE.id)
    assert (alarm.state, alarm.service_id, alarm.out_of_service_until) == ("out-of-service", listed.period.id, until)
    assert rows(conn, NOTICES) == []
    sweep(conn, judged(30, WET))
    assert [title for _, title, _ in rows(conn, NOTICES)] == ["High: sudden wetting, Pot 1, Room 3 (in service again)"]
    assert service.listed(conn, HERE, until) == [] and len(service.listed(conn, HERE, until, past=True)) == 1


def test_a_device_is_known_by_its_urn_and_a_period_can_be_ended_once(conn: Connection) -> None:
    ane = person(conn, "Ane")
    conn.execute("INSERT INTO device (facility_id, urn) VALUES (%s, 'urn:x:31')", (HOUSE.id,))
    until = START + timedelta(days=2)
    one = service.add(conn, HERE, type="device", part="urn:x:31", until=until, now=START, person_id=ane)
    assert (one.period.name, one.room) == ("urn:x:31", None)
    assert service.end(conn, HERE, one.period.id, START + MINUTE, ane) == HOUSE.id
    with pytest.raises(RefusedError, match="already"):
        service.end(conn, HERE, one.period.id, START + 2 * MINUTE, ane)
    with pytest.raises(InputError):
        service.end(conn, [named("elsewhere")], one.period.id, START, ane)


def test_a_part_can_be_taken_out_of_service_though_a_thousand_others_end_sooner(conn: Connection) -> None:
    conn.execute(
        """INSERT INTO out_of_service (facility_id, type, part_id, name, since, until)
        SELECT %s, 'device', gen_random_uuid(), 'urn:x:' || n, %s, %s FROM generate_series(1, 1000) n""",
        (HOUSE.id, START, START + MINUTE),
    )
    until = START + 2 * MINUTE
    one = service.add(conn, HERE, type="container", part=str(pot().id), until=until, now=START, person_id=None)
    assert (one.period.part_id, one.period.until) == (pot().id, until)


@pytest.mark.parametrize(
    ("change", "match"),
    [
        ({"type": "shelf"}, "room, reservoir"),
        ({"part": str(named("nothing"))}, "an id"),
        ({"until": START}, "from now to"),
        ({"until": START + timedelta(days=29)}, "from now to"),
        ({"note": "x" * 501}, "at most 500"),
    ],
)
def test_what_cannot_be_taken_out_of_service_is_refused_with_what_can(
    conn: Connection, change: dict[str, object], match: str
) -> None:
    given = {"type": "container", "part": str(pot().id), "until": START + MINUTE, "note": ""} | change
    with pytest.raises(InputError, match=match):
        service.add(conn, HERE, now=START, person_id=None, **given)  # type: ignore[arg-type]


def test_nobody_takes_out_of_service_what_is_in_another_facility(conn: Connection) -> None:
    with pytest.raises(InputError):
        service.add(
            conn,
            [named("other")],
            type="container",
            part=str(pot().id),
            until=START + MINUTE,
            now=START,
            person_id=None,
        )


def test_the_state_of_any_past_moment_is_rebuilt_from_the_journal(conn: Connection) -> None:
    ladder(conn)
    kept: dict[int, list[object]] = {}
    for minute in range(40):
        here: tuple[Finding, ...] = (EMPTY,) if minute < 25 else ()
        sweep(conn, judged(minute, *here, *([WET] if minute > 12 else [])))
        if minute == 14:
            for alarm in alarms.standing(conn, HOUSE.id):
                alarms.apply_event(conn, alarm.id, Act("acknowledge"), named("Bo"), START + minute * MINUTE, HERE)
        kept[minute] = sorted(alarms.standing(conn, HOUSE.id), key=lambda each: each.id)  # type: ignore[assignment]
    assert len({str(each) for each in kept.values()}) >= 5, "there is something to tell apart"
    for minute, then in kept.items():
        rebuilt = past.standing_at(conn, HERE, START + minute * MINUTE)
        assert sorted(rebuilt, key=lambda each: each.id) == then, minute
    assert past.standing_at(conn, HERE, START - MINUTE) == []
