"""Weekly turns, holidays, time to answer and quiet hours as the database keeps them, and the duty that follows."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, datetime, time, timedelta

import psycopg
import pytest

from tests.integration.alarms.house import build, connect, person, rows, utc
from tests.unit.alarms.places import HOUSE, named
from wickwatch.alarms.rota import gaps
from wickwatch.errors import InputError
from wickwatch.store import contacts, migrate, quiet_hours, rota, rota_plan
from wickwatch.store.connect import Connection
from wickwatch.store.migrate import known
from wickwatch.store.quiet_hours import QuietHours

#: A Monday in winter: 08:00 by the facility's clock is 07:00 UTC.
MONDAY = date(2026, 11, 23)
DAY = timedelta(days=1)
START = utc(2026, 11, 23, 7)


@pytest.fixture
def conn(plain_url: str) -> Iterator[Connection]:
    with connect(plain_url) as connection:
        build(connection)
        for name in ("Ane", "Bo", "Cy"):
            contacts.add(connection, person(connection, name), "email", f"{name.lower()}@example.org")
        yield connection


ANE, BO, CY = (named(name) for name in ("Ane", "Bo", "Cy"))


def first(conn: Connection, at: datetime) -> list[str]:
    return [each.name for each in rota.on_duty(conn, HOUSE.id, at).first]


def test_the_duty_follows_the_weekly_turns_a_turn_by_date_and_the_holidays(conn: Connection) -> None:
    rota_plan.add_pattern(conn, HOUSE.id, 1, [ANE, BO], MONDAY, time(8))
    assert [first(conn, START + days * DAY) for days in (-1, 0, 6.99, 7, 14)] == [[], ["Ane"], ["Ane"], ["Bo"], ["Ane"]]
    rota.add_turn(conn, HOUSE.id, 1, CY, START + 2 * DAY, START + 3 * DAY)
    assert [first(conn, START + days * DAY) for days in (1, 2, 3)] == [["Ane"], ["Cy"], ["Ane"]]
    rota_plan.keep_holidays(conn, HOUSE.id, "NO", None)
    christmas = utc(2026, 12, 25, 12)
    assert first(conn, christmas) == ["Ane"]
    rota_plan.add_pattern(conn, HOUSE.id, 1, [CY], MONDAY, time(0), on_holidays=True)
    assert first(conn, christmas) == ["Cy"] and first(conn, christmas - DAY) == ["Ane"]
    rota_plan.keep_holidays(conn, HOUSE.id, None, None)
    assert first(conn, christmas) == ["Ane"] and rota_plan.holidays_kept(conn, HOUSE.id) is None


def test_weekly_turns_that_follow_others_end_them_and_the_past_stays_as_it_was(conn: Connection) -> None:
    rota_plan.add_pattern(conn, HOUSE.id, 1, [ANE], MONDAY, time(8))
    rota_plan.add_pattern(conn, HOUSE.id, 1, [BO], MONDAY + 9 * DAY, time(20))
    assert [first(conn, START + days * DAY) for days in (8, 9, 9.5)] == [["Ane"], ["Ane"], ["Bo"]]
    with pytest.raises(InputError, match="no other weekly turns of step 1 begin"):
        rota_plan.add_pattern(conn, HOUSE.id, 1, [CY], MONDAY + 2 * DAY, time(8))
    former, later = rota_plan.load(conn, HOUSE.id, START, START + DAY).patterns
    assert (former.ends_on, later.ends_on) == (MONDAY + 9 * DAY, None)  # the refused one has ended nothing
    rota_plan.end_pattern(conn, HOUSE.id, later.id, MONDAY + 20 * DAY)
    assert first(conn, START + 30 * DAY) == []
    rota_plan.end_pattern(conn, HOUSE.id, later.id, MONDAY)  # it never began
    assert [each.id for each in rota_plan.load(conn, HOUSE.id, START, START + DAY).patterns] == [former.id]
    for facility, day in ((named("another"), MONDAY), (HOUSE.id, MONDAY + 10 * DAY)):  # not theirs; over by then
        with pytest.raises(InputError, match="weekly turns of this facility that have not ended"):
            rota_plan.end_pattern(conn, facility, former.id, day)
    assert rota_plan.load(conn, HOUSE.id, START, START + DAY).patterns == (former,)


def test_somebody_who_is_disabled_has_no_duty_any_longer(conn: Connection) -> None:
    rota_plan.add_pattern(conn, HOUSE.id, 1, [ANE], MONDAY, time(8))
    rota_plan.add_pattern(conn, HOUSE.id, 2, [BO], MONDAY, time(8))
    conn.execute("UPDATE person SET disabled_at = now() WHERE id = %s", (ANE,))
    duty = rota.on_duty(conn, HOUSE.id, START)
    assert [(each.step, each.name) for each in duty.people] == [(2, "Bo")] and not duty.fallback


def test_each_step_has_its_own_time_to_answer(conn: Connection) -> None:
    for step, who in ((1, ANE), (2, BO), (3, CY)):
        rota_plan.add_pattern(conn, HOUSE.id, step, [who], MONDAY, time(8))
    rota_plan.set_answer_within(conn, HOUSE.id, 1, 5)
    rota_plan.set_answer_within(conn, HOUSE.id, 2, 30)
    rota_plan.set_answer_within(conn, HOUSE.id, 2, 20)
    duty = rota.on_duty(conn, HOUSE.id, START)
    assert [[each.name for each in rung] for rung in duty.ladder] == [["Ane"], ["Bo"], ["Cy"]]
    assert [wait / timedelta(minutes=1) for wait in duty.waits] == [5, 20, 10]


def test_quiet_hours_are_told_with_the_duty_and_are_of_the_facilitys_clock(conn: Connection) -> None:
    rota_plan.add_pattern(conn, HOUSE.id, 1, [ANE], MONDAY, time(8))
    quiet_hours.set_hours(conn, ANE, QuietHours(time(21), time(6)))
    quiet_hours.set_hours(conn, ANE, QuietHours(time(22), time(7)))
    assert quiet_hours.of_person(conn, ANE) == QuietHours(time(22), time(7))

    def until(at: datetime) -> datetime | None:
        return rota.on_duty(conn, HOUSE.id, at).first[0].quiet_until

    assert until(utc(2026, 11, 23, 21)) == utc(2026, 11, 24, 6)  # 22:00 to 07:00 in Oslo
    assert until(utc(2026, 11, 23, 20, 59)) is None and until(utc(2026, 11, 24, 6)) is None
    with pytest.raises(InputError, match="another time than their beginning"):
        quiet_hours.set_hours(conn, ANE, QuietHours(time(22), time(22)))
    quiet_hours.set_hours(conn, ANE, None)
    assert until(utc(2026, 11, 23, 22)) is None


NOT_A_ROTA: list[tuple[dict[str, object], str]] = [
    ({"step": 0}, "1 for who is called first"),
    ({"step": 10}, "up to 9"),
    ({"people": []}, "1 to 52"),
    ({"turn_days": 0}, "1 to 56"),
    ({"turn_days": 57}, "1 to 56"),
]


def test_what_can_be_no_rota_is_refused_saying_what_is_accepted(conn: Connection) -> None:
    usual = {"step": 1, "people": [ANE], "starts_on": MONDAY, "hand_over": time(8)}
    for given, said in NOT_A_ROTA:
        with pytest.raises(InputError, match=said):
            rota_plan.add_pattern(conn, HOUSE.id, **(usual | given))  # type: ignore[arg-type]
    for minutes in (0, 1441):
        with pytest.raises(InputError, match="1 to 1440"):
            rota_plan.set_answer_within(conn, HOUSE.id, 1, minutes)
    with pytest.raises(InputError, match="ISO 3166-1"):
        rota_plan.keep_holidays(conn, HOUSE.id, "XX", None)
    assert gaps(rota_plan.load(conn, HOUSE.id, START, START + DAY), START, START + DAY) == ((START, START + DAY),)


def test_a_country_the_library_no_longer_knows_keeps_nobody_from_being_called(conn: Connection) -> None:
    rota_plan.add_pattern(conn, HOUSE.id, 1, [ANE], MONDAY, time(8))
    rota_plan.add_pattern(conn, HOUSE.id, 1, [BO], MONDAY, time(8), on_holidays=True)
    conn.execute("INSERT INTO rota_holidays (facility_id, country) VALUES (%s, 'ZZ')", (HOUSE.id,))
    assert first(conn, utc(2026, 12, 25, 12)) == ["Ane"]


def test_two_weekly_turns_of_one_step_at_once_are_refused_by_the_database_itself(conn: Connection) -> None:
    statement = "INSERT INTO rota_pattern (facility_id, step, starts_on, hand_over) VALUES (%s, 1, %s, '08:00')"
    rows_before = rows(conn, "SELECT count(*) FROM rota_pattern")
    conn.execute(statement, (HOUSE.id, MONDAY))
    with pytest.raises(psycopg.errors.ExclusionViolation):
        conn.execute(statement, (HOUSE.id, MONDAY + 400 * DAY))
    assert rows_before == [(0,)]


def test_turns_of_before_stay_on_the_rota_through_the_migration(empty_database_url: str) -> None:
    migrate(empty_database_url, [each for each in known() if each.number < 3])
    with connect(empty_database_url) as before:
        build(before)
        before.execute("INSERT INTO person (id, name) VALUES (%s, 'Ane')", (ANE,))
        before.execute("INSERT INTO contact (person_id, way, address) VALUES (%s, 'email', 'ane@example.org')", (ANE,))
        before.execute(
            "INSERT INTO rota_turn (facility_id, step, person_id, during) VALUES (%s, 2, %s, tstzrange(%s, NULL))",
            (HOUSE.id, ANE, START),
        )
    migrate(empty_database_url)
    with connect(empty_database_url) as after:
        assert first(after, START + 400 * DAY) == ["Ane"]
        assert rota.uncovered(after, START - DAY) == [("birchwood", False)]
