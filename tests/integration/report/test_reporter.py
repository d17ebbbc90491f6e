"""Orders made into reports that are kept, compared with their earlier editions, and sent."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from typing import Any
from uuid import UUID, uuid4
from zoneinfo import ZoneInfo

import psycopg
import pytest

from tests.builders import place
from tests.parts.process import wait_until
from wickwatch import report
from wickwatch.report import Facts, last_complete, parse, reporter
from wickwatch.report.process import fulfil
from wickwatch.report.reporter import LEASE, order_due
from wickwatch.settings import Settings
from wickwatch.store import contacts, notices, people, report_sending, reports
from wickwatch.watch.sweep import Sweeper

Connection = psycopg.Connection[Any]

OLD = datetime(2020, 1, 1, tzinfo=UTC)
NOW = datetime(2026, 11, 23, 9, 0, tzinfo=UTC)
WEEK = "2026-W47"
UTC_ZONE = ZoneInfo("UTC")
BASE = "https://watch.example.org"


@pytest.fixture
def conn(plain_url: str) -> Iterator[Connection]:
    """A connection whose every statement is committed."""
    with psycopg.connect(plain_url, autocommit=True) as found:
        yield found


def house(conn: Connection, hours: int = 168, week: str = WEEK) -> tuple[UUID, int]:
    """A facility with one pot, measured each hour of the first hours of a week; its id and the pot's channel."""
    facility = place.facility(conn, zone="UTC")
    pot = place.container(conn, place.room(conn, facility))
    channel = place.channel(conn, facility, interval_s=3600.0)
    place.attach(conn, channel, "container", pot, OLD)
    add(conn, channel, week, range(hours))
    return facility, channel


def add(conn: Connection, channel: int, week: str, hours: range, mbar: float = 100.0) -> None:
    """Readings of some hours of a week."""
    start = parse(week, UTC_ZONE).start
    place.readings(conn, channel, [(start + timedelta(hours=hour, minutes=5), mbar) for hour in hours])


def test_an_ordered_report_is_kept_with_its_files_for_its_own_facility(conn: Connection, plain_url: str) -> None:
    facility, _ = house(conn)
    assert reports.order(conn, facility, WEEK, NOW)
    assert fulfil(conn, plain_url, BASE)
    (kept,) = reports.listed(conn, [facility])
    assert kept.edition == 1
    assert kept.reached_at == datetime(2026, 11, 22, 23, 5, tzinfo=UTC)
    assert [name.removeprefix("birchwood-2026-W47") for name in kept.files] == [
        "-a4.pdf", "-csv.zip", "-letter.pdf", "-parquet.zip", ".html",
    ]  # fmt: skip
    media_type, body = reports.file(conn, kept.id, "birchwood-2026-W47-a4.pdf", [facility]) or ("", b"")
    assert media_type == "application/pdf"
    assert body.startswith(b"%PDF")
    assert reports.underway(conn, [facility], NOW) == []
    assert not fulfil(conn, plain_url, BASE)
    other = place.facility(conn, "elsewhere")
    assert reports.file(conn, kept.id, kept.files[0], [other]) is None
    assert reports.listed(conn, [other]) == []


def test_a_report_made_again_after_late_data_says_what_changed(conn: Connection, plain_url: str) -> None:
    facility, channel = house(conn, hours=100)
    reports.order(conn, facility, WEEK, NOW)
    fulfil(conn, plain_url, BASE)
    add(conn, channel, WEEK, range(100, 168), mbar=300.0)
    reports.order(conn, facility, WEEK, NOW)
    fulfil(conn, plain_url, BASE)
    (kept,) = reports.listed(conn, [facility])
    assert kept.edition == 2
    _, html = reports.file(conn, kept.id, "birchwood-2026-W47.html", [facility]) or ("", b"")
    assert "edition 2" in html.decode()
    assert "time in band 100.0 % → 59.5 %" in html.decode()
    files = conn.execute("SELECT count(*) FROM report_file").fetchone()
    assert files == (5,)


def test_one_week_is_not_made_twice_at_once(conn: Connection) -> None:
    facility, _ = house(conn)
    assert reports.order(conn, facility, WEEK, NOW)
    assert not reports.order(conn, facility, WEEK, NOW)


def test_the_clock_orders_each_week_once_and_only_where_there_are_readings(conn: Connection) -> None:
    facility, _ = house(conn)
    place.facility(conn, "empty-house", zone="UTC")
    early = datetime(2026, 11, 23, 5, 59, tzinfo=UTC)
    order_due(conn, early, timedelta(hours=6))
    assert reports.underway(conn, [facility], NOW) == []
    for _ in range(2):
        order_due(conn, NOW, timedelta(hours=6))
    rows = conn.execute("SELECT facility_id, week, scheduled FROM report_order").fetchall()
    assert rows == [(facility, WEEK, True)]


def test_a_reporter_that_was_down_all_week_makes_the_week_before_also_in_the_first_hours_of_a_monday(
    conn: Connection,
) -> None:
    facility, _ = house(conn)  # the week that ended on the 23rd
    order_due(conn, datetime(2026, 11, 30, 2, 0, tzinfo=UTC), timedelta(hours=6))
    rows = conn.execute("SELECT facility_id, week FROM report_order").fetchall()
    assert rows == [(facility, WEEK)]


def test_a_subscriber_is_told_of_the_clocks_report_and_not_of_one_made_by_hand(
    conn: Connection, plain_url: str
) -> None:
    facility, _ = house(conn)
    mara = people.add_person(conn, "Mara", "viewer", ["birchwood"], None)
    contacts.add(conn, mara, "email", "mara@example.org")
    report_sending.subscribe(conn, facility, mara, NOW)
    reports.order(conn, facility, WEEK, NOW)
    fulfil(conn, plain_url, BASE)
    assert conn.execute("SELECT count(*) FROM notice").fetchone() == (0,)
    reports.order(conn, facility, WEEK, NOW, scheduled=True)
    fulfil(conn, plain_url, BASE)
    (notice,) = conn.execute("SELECT address, title, body FROM notice").fetchall()
    assert notice[:2] == ("mara@example.org", "Weekly report: Birchwood House, week 2026-W47")
    assert "- Time in band: 100.0 %" in notice[2]
    assert f"{BASE}/reports?facility=birchwood" in notice[2]


def test_a_subscriber_is_told_in_the_facilitys_language_and_a_program_after_that_in_english(
    conn: Connection, plain_url: str
) -> None:
    facility, _ = house(conn)
    conn.execute("UPDATE facility SET language = 'de', tension_unit = 'kPa'")
    mara = people.add_person(conn, "Mara", "viewer", ["birchwood"], None)
    contacts.add(conn, mara, "webhook", "https://hook.example.org", contacts.new_secret())
    report_sending.subscribe(conn, facility, mara, NOW)
    reports.order(conn, facility, WEEK, NOW, scheduled=True)
    fulfil(conn, plain_url, BASE)
    (kept,) = conn.execute("SELECT title, body FROM notice").fetchall()
    assert kept[0] == "Wochenbericht: Birchwood House, Woche 2026-W47" and "- Zeit im Sollbereich: 100,0 %" in kept[1]
    told = notices.claim(conn, datetime.now(UTC), "webhook", LEASE)
    assert told is not None
    assert told.title == "Weekly report: Birchwood House, week 2026-W47"
    assert told.body == f"The whole report, as HTML, PDF and tables:\n{BASE}/reports?facility=birchwood\n"


def test_a_watch_may_begin_while_a_report_is_made(
    conn: Connection, plain_url: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    facility, _ = house(conn)
    made, swept = reporter.facts, []

    def meanwhile(*args: Any) -> Facts:
        found = made(*args)
        sweeper = Sweeper(plain_url, facility, BASE)
        swept.append(sweeper.sweep(NOW))
        sweeper.close()
        return found

    monkeypatch.setattr(reporter, "facts", meanwhile)
    reports.order(conn, facility, WEEK, NOW)
    assert fulfil(conn, plain_url, BASE)
    assert len(reports.listed(conn, [facility])) == 1
    assert [each is not None for each in swept] == [True]


def test_a_report_is_sent_to_the_first_contact_of_those_who_may_still_see_the_facility(conn: Connection) -> None:
    facility, _ = house(conn)
    for name in ("Mara", "Otto", "Ines"):
        person = people.add_person(conn, name, "viewer", ["birchwood"], None)
        report_sending.subscribe(conn, facility, person, NOW)
        for way in ("home", "work"):
            contacts.add(conn, person, "email", f"{name.lower()}@{way}.example.org")
    conn.execute("DELETE FROM membership WHERE person_id = (SELECT id FROM person WHERE name = 'Otto')")
    conn.execute("UPDATE person SET disabled_at = now() WHERE name = 'Ines'")
    sent = report_sending.queue(conn, facility, uuid4(), "title", "body", {}, NOW, NOW + timedelta(days=1))
    assert sent == 1
    assert conn.execute("SELECT address, purpose FROM notice").fetchall() == [("mara@home.example.org", "report")]


def test_an_order_whose_maker_died_is_taken_up_again_and_given_up_at_last(conn: Connection) -> None:
    facility, _ = house(conn)
    reports.order(conn, facility, WEEK, NOW)
    at = NOW
    for number in range(reports.TRIES):
        taken = reports.claim(conn, at, LEASE)
        assert taken is not None
        assert taken.tries == number + 1
        assert reports.claim(conn, at, LEASE) is None
        at += LEASE
    assert reports.claim(conn, at, LEASE) is None
    (lost,) = reports.underway(conn, [facility], NOW)
    assert lost.failure == "the reporter stopped while it was made"


def test_a_week_that_can_not_be_made_is_told_and_holds_up_no_other(conn: Connection, plain_url: str) -> None:
    facility, _ = house(conn)
    conn.execute(
        "INSERT INTO report_order (facility_id, week, scheduled, ordered_at) VALUES (%s, '2026-W99', false, %s)",
        (facility, NOW),
    )
    reports.order(conn, facility, WEEK, NOW + timedelta(seconds=1))
    assert fulfil(conn, plain_url, BASE)
    assert fulfil(conn, plain_url, BASE)
    (failed,) = reports.underway(conn, [facility], NOW)
    assert failed.failure is not None
    assert "2026-W99" in failed.failure
    assert len(reports.listed(conn, [facility])) == 1


def test_the_process_makes_the_last_week_by_itself_when_it_starts(conn: Connection, plain_url: str) -> None:
    now = datetime.now(UTC)
    week = last_complete(now - timedelta(hours=6), UTC_ZONE)
    facility, _ = house(conn, week=week.name)
    stop = threading.Event()
    running = threading.Thread(target=report.run, args=(Settings(database_url=plain_url), stop), daemon=True)
    running.start()
    try:
        wait_until(lambda: bool(reports.listed(conn, [facility])), "the report", 30)
    finally:
        stop.set()
        running.join(20)
    assert reports.listed(conn, [facility])[0].week == week.name
    assert not running.is_alive()
