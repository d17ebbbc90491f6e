"""Killed between any two steps, the outbox loses nothing and sends at most one duplicate."""

from __future__ import annotations

import pytest

from tests.integration.alarms.house import on_call, rows
from tests.integration.notify.conftest import Running, child
from tests.integration.notify.test_mail_arrives import more, raised, states
from tests.parts.mail import Mailbox
from tests.parts.process import wait_until
from wickwatch.store.connect import Connection

WORKERS = """
SELECT count(*) FROM pg_stat_activity
WHERE datname = current_database() AND starts_with(application_name, 'wickwatch-notify-email')"""


@pytest.mark.parametrize(
    ("point", "mails"),
    [
        ("after the claim", 1),
        ("before sending", 1),
        ("after sending", 2),
        ("in the record's transaction", 2),
    ],
)
def test_a_process_killed_at_any_point_loses_no_notice_and_sends_at_most_one_duplicate(
    conn: Connection, plain_url: str, mailbox: Mailbox, notifying: Running, point: str, mails: int
) -> None:
    on_call(conn, "Ane", "email", "ane@example.org")
    raised(conn)
    with child(plain_url, mailbox.url, point) as process:
        process.wait(30)
        assert process.returncode == -9
    assert states(conn) == ["queued"]
    with notifying(smtp_url=mailbox.url):
        wait_until(lambda: states(conn) == ["sent"], "it is sent when the claim has run out", 30)
    assert len(mailbox.mails) == mails
    assert len({mail.message["Message-ID"] for mail in mailbox.mails}) == 1, "a duplicate can be told"


def test_two_processes_send_each_of_many_notices_once(conn: Connection, plain_url: str, mailbox: Mailbox) -> None:
    on_call(conn, "Ane", "email", "ane@example.org")
    raised(conn)
    more(conn, 59, "email", "ane@example.org")
    with child(plain_url, mailbox.url), child(plain_url, mailbox.url):
        wait_until(lambda: set(states(conn)) == {"sent"}, "all are sent", 60)
        backends = rows(conn, WORKERS)
    assert backends == [(4,)], "two workers in each of two processes"
    assert len(mailbox.mails) == 60
    assert len({mail.message["Message-ID"] for mail in mailbox.mails}) == 60
    assert rows(conn, "SELECT max(tries), count(*) FROM notice JOIN notice_attempt ON id = notice_id") == [(1, 60)]
