"""A call leaves as soon as it is queued, arrives once, and is tried again until it is worth nothing."""

from __future__ import annotations

import socket
import time
from datetime import UTC, datetime, timedelta

from tests.integration.alarms.house import BASE_URL, HERE, on_call, rows, sweep
from tests.integration.notify.conftest import Running
from tests.parts.mail import Mailbox
from tests.parts.process import free_port, wait_until
from tests.parts.webhook import Receiver
from tests.unit.alarms.places import found, pot, reservoir
from wickwatch.alarms import Act, Changes
from wickwatch.detect.finding import Judgement
from wickwatch.store import alarms, contacts, dead_letters, notices, readers
from wickwatch.store.connect import Connection


def raised(conn: Connection, *subjects: int, at: datetime | None = None) -> Changes:
    """A sweep that finds stuck-open emitters now; they are called at once."""
    at = at or datetime.now(UTC)
    findings = tuple(
        found("sudden-wetting", pot(number), since=at, tension_mbar=21.6, wet_limit_mbar=60.0)
        for number in subjects or (1,)
    )
    return sweep(conn, Judgement(at, frozenset({"sudden-wetting"}), findings))


def more(conn: Connection, count: int, way: str, address: str) -> None:
    """Queue more notices like the one that is there."""
    conn.execute(
        "INSERT INTO notice (key, facility_id, way, address, title, body, payload, created_at, due_at, expires_at)"
        " SELECT 'more.' || n, facility_id, %s, %s, title, body, payload, created_at, due_at, expires_at"
        " FROM notice, generate_series(1, %s) n",
        (way, address, count),
    )


def states(conn: Connection) -> list[str]:
    return [state for (state,) in rows(conn, "SELECT state FROM notice ORDER BY created_at, way, id")]


def test_a_mail_arrives_once_within_seconds_with_its_number_its_steps_and_its_link(
    conn: Connection, mailbox: Mailbox, notifying: Running
) -> None:
    who = on_call(conn, "Ane", "email", "ane@example.org")
    with notifying(smtp_url=mailbox.url):
        wait_until(lambda: bool(rows(conn, "SELECT 1 FROM heartbeat WHERE part = 'notify'")), "the process runs")
        (alarm,) = raised(conn).alarms
        queued = time.monotonic()
        (mail,) = mailbox.wait_for(1)
        waited = time.monotonic() - queued
        wait_until(lambda: states(conn) == ["sent"], "the notice is recorded")
        ((key, person),) = rows(conn, "SELECT key, person_id FROM notice")
        raised(conn)
        time_passes(conn, mailbox)
    assert waited < 3
    assert (mail.sender, mail.recipients) == ("wickwatch@example.net", ("ane@example.org",))
    assert mail.message["Subject"] == "High: sudden wetting, Pot 1, Room 3"
    lines = mail.text.splitlines()
    assert lines[0] == alarm.message
    assert "Pot 1 in Room 3" in lines[0] and "22 mbar" in lines[0]
    assert "1. Go and look: is water standing in the saucer or on the floor?" in lines
    assert f"{BASE_URL}/alarms/{alarm.id}" in lines
    assert (key.split(":")[:2], person) == ([str(alarm.id), "1"], who)
    assert mail.message["Message-ID"] == f"<{key.replace(':', '.')}@example.net>"
    attempts = rows(conn, "SELECT ok, detail FROM notice_attempt JOIN notice ON id = notice_id WHERE key = %s", key)
    assert attempts == [(True, "taken by 127.0.0.1")]


def time_passes(conn: Connection, mailbox: Mailbox) -> None:
    """A second call has gone out and nothing else has: what should not come would have come before it."""
    before = len(mailbox.mails)
    raised(conn, 1, 2)
    wait_until(lambda: len(mailbox.mails) > before, "the next call")
    assert len(mailbox.mails) == before + 1


def test_a_server_that_is_down_is_tried_again_and_the_mail_comes_when_it_is_back(
    conn: Connection, notifying: Running
) -> None:
    from aiosmtpd.controller import Controller

    box = Mailbox(free_port())
    on_call(conn, "Ane", "email", "ane@example.org")
    raised(conn)
    with notifying(smtp_url=box.url):
        wait_until(lambda: rows(conn, "SELECT max(tries) FROM notice")[0][0] >= 3, "three tries")
        failed = rows(conn, "SELECT DISTINCT ok, detail FROM notice_attempt")
        assert len(failed) == 1 and failed[0][0] is False and "refused" in failed[0][1]
        server = Controller(box, hostname=box.host, port=box.port)
        server.start()
        try:
            box.wait_for(1)
            wait_until(lambda: states(conn) == ["sent"], "the notice is recorded")
        finally:
            server.stop()
    attempts = rows(conn, "SELECT try, ok FROM notice_attempt ORDER BY try")
    assert [number for number, _ in attempts] == list(range(1, len(attempts) + 1))
    assert [ok for _, ok in attempts] == [False] * (len(attempts) - 1) + [True]
    assert len(box.mails) == 1


def test_a_server_that_is_busy_is_tried_again(conn: Connection, mailbox: Mailbox, notifying: Running) -> None:
    mailbox.refusal = "451 4.3.0 try again later"
    on_call(conn, "Ane", "email", "ane@example.org")
    raised(conn)
    with notifying(smtp_url=mailbox.url):
        wait_until(lambda: mailbox.refused >= 2, "two refusals")
        mailbox.refusal = None
        mailbox.wait_for(1)
        wait_until(lambda: states(conn) == ["sent"], "the notice is recorded")
    assert "451 4.3.0 try again later" in {detail for (detail,) in rows(conn, "SELECT detail FROM notice_attempt")}


def test_a_mail_refused_for_good_is_a_dead_letter_and_the_next_way_is_used_at_once(
    conn: Connection, mailbox: Mailbox, receiver: Receiver, notifying: Running
) -> None:
    mailbox.refusal = "550 5.7.1 not wanted here"
    who = on_call(conn, "Ane", "email", "ane@example.org")
    contacts.add(conn, who, "webhook", receiver.url)
    (alarm,) = raised(conn).alarms
    with notifying(smtp_url=mailbox.url):
        (call,) = receiver.wait_for(1)
        wait_until(lambda: sorted(states(conn)) == ["dead", "sent"], "both are recorded")
    assert mailbox.refused == 1
    assert call.json["data"]["alarm"]["id"] == str(alarm.id)
    (dead,) = dead_letters.undelivered(conn, HERE)
    assert (dead.way, dead.person, dead.tries, dead.detail) == ("email", "Ane", 1, "550 5.7.1 not wanted here")
    assert dead_letters.undelivered(conn, []) == []


def test_the_next_way_is_used_after_two_failed_tries_and_the_first_one_goes_on(
    conn: Connection, mailbox: Mailbox, receiver: Receiver, notifying: Running
) -> None:
    receiver.status = 503
    who = on_call(conn, "Ane", "webhook", receiver.url)
    contacts.add(conn, who, "email", "ane@example.org")
    raised(conn)
    with notifying(smtp_url=mailbox.url):
        mailbox.wait_for(1)
        wait_until(lambda: len(receiver.calls) >= 4, "the first way is tried on")
        receiver.status = 204
        wait_until(lambda: states(conn) == ["sent", "sent"], "both are recorded")
    assert len(mailbox.mails) == 1


def test_a_notice_past_its_time_is_a_dead_letter(conn: Connection, mailbox: Mailbox, notifying: Running) -> None:
    mailbox.refusal = "451 4.3.0 try again later"
    on_call(conn, "Ane", "email", "ane@example.org")
    on_time = datetime.now(UTC)
    raised(conn, 1, at=on_time - timedelta(hours=6, seconds=-1))
    raised(conn, 1, 2, at=on_time - timedelta(hours=7))
    with notifying(smtp_url=mailbox.url):
        wait_until(lambda: states(conn) == ["dead", "dead"], "both are given up")
    assert mailbox.mails == []
    tried, untried = dead_letters.undelivered(conn, HERE)
    assert {tried.tries > 0, untried.tries > 0} == {True, False}
    assert notices.standing(conn, on_time).dead == 2


def test_what_was_answered_before_it_left_is_not_sent(conn: Connection, mailbox: Mailbox, notifying: Running) -> None:
    who = on_call(conn, "Ane", "email", "ane@example.org")
    (mine,) = raised(conn, 1).alarms
    (other,) = raised(conn, 2).alarms
    alarms.apply_event(conn, mine.id, Act("acknowledge"), who, datetime.now(UTC), HERE)
    with notifying(smtp_url=mailbox.url):
        mailbox.wait_for(1)
        wait_until(lambda: sorted(states(conn)) == ["sent", "withdrawn"], "both are done")
    (mail,) = mailbox.mails
    assert str(other.id) in mail.text


def test_a_hanging_webhook_holds_up_no_mail(conn: Connection, mailbox: Mailbox, notifying: Running) -> None:
    on_call(conn, "Ane", "email", "ane@example.org")
    with socket.create_server(("127.0.0.1", 0)) as silent:
        raised(conn)
        conn.execute("UPDATE notice SET due_at = now()")
        more(conn, 8, "webhook", f"http://127.0.0.1:{silent.getsockname()[1]}/")
        conn.execute("UPDATE notice SET contact_id = (SELECT id FROM contact) WHERE way = 'webhook'")
        conn.execute("UPDATE contact SET secret = %s", (contacts.new_secret(),))
        with notifying(smtp_url=mailbox.url):
            wait_until(
                lambda: rows(conn, "SELECT count(*) FROM notice WHERE way = 'webhook' AND tries = 1") == [(4,)],
                "all hang",
            )
            raised(conn, 1, 2)
            mailbox.wait_for(2, limit_s=8)
            assert rows(conn, "SELECT 1 FROM notice_attempt WHERE NOT ok") == []
            silent.close()


def test_without_a_broker_or_mail_server_the_process_lives_and_says_so(conn: Connection, notifying: Running) -> None:
    on_call(conn, "Ane", "email", "ane@example.org")
    raised(conn)
    with notifying():
        wait_until(lambda: rows(conn, "SELECT max(tries) FROM notice")[0][0] >= 1, "a try")
        wait_until(lambda: bool(rows(conn, "SELECT 1 FROM heartbeat WHERE part = 'notify'")), "a sign of life")
        wait_until(lambda: bool(rows(conn, "SELECT 1 FROM notice_attempt")), "a record")
    ((detail,),) = rows(conn, "SELECT DISTINCT detail FROM notice_attempt")
    assert detail == "no mail server is set (WICKWATCH_SMTP_URL)"
    assert rows(conn, "SELECT 1 FROM heartbeat") == [], "a copy that stops on purpose is not missed"


def test_a_rota_that_reaches_nobody_shows_in_the_health_of_the_process(conn: Connection, notifying: Running) -> None:
    with notifying():
        detail = "SELECT detail ->> 'nobody_on_duty' FROM heartbeat WHERE part = 'notify' AND healthy"
        wait_until(lambda: rows(conn, detail) == [('["birchwood"]',)], "it is told")


def test_an_alarm_that_ended_unanswered_before_its_call_left_still_calls(
    conn: Connection, mailbox: Mailbox, notifying: Running
) -> None:
    on_call(conn, "Ane", "email", "ane@example.org")
    at = datetime.now(UTC) - timedelta(hours=1)
    empty = found("reservoir-empty", reservoir(), since=at)
    for minute, findings in ((0, (empty,)), (1, (empty,)), (2, ()), (8, ())):
        sweep(conn, Judgement(at + timedelta(minutes=minute), frozenset({"reservoir-empty"}), findings))
    assert rows(conn, "SELECT state FROM alarm") == [("returned-unacknowledged",)]
    with notifying(smtp_url=mailbox.url):
        mailbox.wait_for(1)


def test_a_mail_is_in_its_persons_language_and_units(conn: Connection, mailbox: Mailbox, notifying: Running) -> None:
    who = on_call(conn, "Ane", "email", "ane@example.org")
    readers.choose(conn, who, readers.Chosen("de", "kPa", "gal", "12h"))
    raised(conn)
    with notifying(smtp_url=mailbox.url):
        (mail,) = mailbox.wait_for(1)
    assert mail.message["Subject"] == "Hoch: plötzliche Vernässung, Pot 1, Room 3"
    first, *rest = mail.text.replace("\r", "").split("\n\n")
    assert first.startswith("Pot 1 in Room 3 bekommt Wasser, das nicht gebraucht wird")
    assert "2,2 kPa, Nassgrenze 6,0 kPa, seit " in first and first.endswith(("AM.", "PM."))
    assert any(each.startswith("Was zu tun ist:\n1. Hingehen und nachsehen:") for each in rest)
    (html,) = [part for part in mail.message.walk() if part.get_content_type() == "text/html"]
    assert '<html lang="de">' in html.get_content()  # type: ignore[attr-defined]


def test_a_program_after_a_persons_mail_is_told_in_english(
    conn: Connection, mailbox: Mailbox, receiver: Receiver, notifying: Running
) -> None:
    who = on_call(conn, "Ane", "email", "ane@example.org")
    contacts.add(conn, who, "webhook", receiver.url, contacts.new_secret())
    readers.choose(conn, who, readers.Chosen("de", "kPa"))
    mailbox.refusal = "550 5.1.1 nobody of that name"
    raised(conn)
    with notifying(smtp_url=mailbox.url):
        (call,) = receiver.wait_for(1)
    told = call.json["data"]
    assert "sudden wetting, Pot 1, Room 3" in told["title"]
    assert told["text"].startswith(told["alarm"]["message"]) and "22 mbar, wet limit 60 mbar" in told["text"]
