"""A database that goes and comes back costs no notice and sends none twice."""

from __future__ import annotations

from typing import Any

from aiosmtpd.controller import Controller

from tests.integration.alarms.house import connect, on_call, rows
from tests.integration.notify.conftest import Running
from tests.integration.notify.test_mail_arrives import raised, states
from tests.parts.mail import Mailbox
from tests.parts.process import free_port, wait_until
from wickwatch.store.connect import Connection

#: The server is shared with tests that run beside, who have theirs in databases of their own.
OURS = "FROM pg_stat_activity WHERE datname = current_database() AND starts_with(application_name, 'wickwatch-notify')"
CONNECTED = f"SELECT count(*) {OURS}"
BROKEN = f"SELECT pg_terminate_backend(pid) {OURS}"


def test_connections_that_break_are_made_again(conn: Connection, mailbox: Mailbox, notifying: Running) -> None:
    on_call(conn, "Ane", "email", "ane@example.org")
    with notifying(smtp_url=mailbox.url):
        wait_until(lambda: rows(conn, CONNECTED) == [(12,)], "all connections are up")
        rows(conn, BROKEN)
        raised(conn)
        mailbox.wait_for(1)
        wait_until(lambda: states(conn) == ["sent"], "the notice is recorded")


def test_a_database_lost_while_a_mail_is_sent_is_told_when_it_is_back(
    conn: Connection, plain_url: str, notifying: Running
) -> None:
    class Breaking(Mailbox):
        async def handle_DATA(self, server: Any, session: Any, envelope: Any) -> str:
            with connect(plain_url) as own:
                rows(own, BROKEN)
            return await super().handle_DATA(server, session, envelope)

    box = Breaking(free_port())
    server = Controller(box, hostname=box.host, port=box.port)
    server.start()
    try:
        on_call(conn, "Ane", "email", "ane@example.org")
        raised(conn)
        with notifying(smtp_url=box.url):
            wait_until(lambda: states(conn) == ["sent"], "what was sent is recorded")
    finally:
        server.stop()
    assert len(box.mails) == 1
    assert rows(conn, "SELECT try, ok FROM notice_attempt") == [(1, True)]
