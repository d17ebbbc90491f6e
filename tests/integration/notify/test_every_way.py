"""What every way to reach a person promises: nothing lost, at most one duplicate, and the next way when one fails.

A crash is a connection that ends without a commit between two steps of the very functions the worker runs; processes
are killed for real in `test_crashes` and the reliability tests.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from uuid import uuid4

import psycopg
import pytest

from tests.integration.alarms.house import rows
from tests.integration.notify.conftest import QUICK, Running
from tests.integration.notify.test_mail_arrives import raised, states
from tests.integration.notify.ways import WAYS, Way, on_call_by, open_way, reached_by
from tests.parts.process import wait_until
from tests.unit.alarms.places import HOUSE
from wickwatch.notify import outbox
from wickwatch.notify.outbox import LEASE
from wickwatch.store import dead_letters, notices, report_sending
from wickwatch.store.connect import Connection

POINTS = {
    "before the claim is committed": 1,
    "after the claim": 1,
    "after sending": 2,
    "before the record is committed": 2,
    "after the record": 1,
}


@pytest.fixture(params=WAYS)
def way(request: pytest.FixtureRequest) -> Iterator[Way]:
    with open_way(request.param) as opened:
        yield opened


def crash(url: str, way: Way, point: str, at: datetime) -> None:
    """Take the worker's steps up to a point, and be gone."""
    with psycopg.connect(url, options="-c timezone=UTC") as conn:
        try:
            claimed = notices.claim(conn, at, way.way, LEASE)
            assert claimed is not None
            if point == "before the claim is committed":
                return
            conn.commit()
            if point == "after the claim":
                return
            result = outbox.send(way.channel, claimed, at)
            if point == "after sending":
                return
            conn.execute("SELECT 1")  # a transaction of ours, in which the record's is a part
            outbox.record(conn, claimed, result, QUICK, at)
            if point != "before the record is committed":
                conn.commit()
        finally:
            conn.rollback()


@pytest.mark.parametrize("point", POINTS)
def test_a_crash_between_any_two_steps_loses_no_notice_and_sends_at_most_one_duplicate(
    conn: Connection, plain_url: str, way: Way, point: str
) -> None:
    on_call_by(conn, "Ane", way)
    raised(conn)
    at = datetime.now(UTC)
    crash(plain_url, way, point, at)
    if point != "before the claim is committed":
        assert notices.claim(conn, at + LEASE / 2, way.way, LEASE) is None, "nobody else takes it meanwhile"
    later = at + LEASE + timedelta(seconds=1)
    while (claimed := notices.claim(conn, later, way.way, LEASE)) is not None:
        outbox.record(conn, claimed, outbox.send(way.channel, claimed, later), QUICK, later)
    assert states(conn) == ["sent"]
    assert len(way.references()) == POINTS[point]
    assert len(set(way.references())) == 1, "a duplicate can be told"


def test_what_was_not_taken_is_tried_again_and_arrives(conn: Connection, way: Way, notifying: Running) -> None:
    on_call_by(conn, "Ane", way)
    way.refuse()
    raised(conn)
    with notifying(**way.settings):
        wait_until(lambda: rows(conn, "SELECT max(tries) FROM notice")[0][0] >= 2, "two tries")
        way.accept()
        wait_until(lambda: states(conn) == ["sent"], "it is taken")
    assert len(set(way.references())) == 1
    ((why,),) = rows(conn, "SELECT DISTINCT detail FROM notice_attempt WHERE NOT ok")
    assert any(told in why for told in ("503", "451")), why


def test_when_the_first_way_is_dead_the_next_one_is_used(conn: Connection, way: Way, notifying: Running) -> None:
    with open_way("email" if way.way == "webhook" else "webhook") as spare:
        on_call_by(conn, "Ane", way, spare)
        way.refuse(final=True)
        raised(conn)
        with notifying(**way.settings, **spare.settings):
            wait_until(lambda: len(spare.references()) == 1, "the next way is used")
            wait_until(lambda: "sent" in states(conn), "it is recorded")


def test_a_report_takes_the_next_way_too_and_is_shown_where_the_first_one_failed(
    conn: Connection, notifying: Running
) -> None:
    with open_way("push") as phone, open_way("webhook") as spare:
        who = on_call_by(conn, "Ane", phone, spare)
        report_sending.subscribe(conn, HOUSE.id, who, datetime.now(UTC))
        phone.refuse(final=True)
        now = datetime.now(UTC)
        report_sending.queue(conn, HOUSE.id, uuid4(), "Weekly report", "All is well.", {}, now, now + timedelta(days=2))
        with notifying():
            wait_until(lambda: sorted(states(conn)) == ["dead", "sent"], "the next way is used")
        (call,) = spare.server.calls
        assert call.json["type"] == "report.made"
        (dead,) = dead_letters.undelivered(conn, [HOUSE.id])
        assert (dead.way, dead.title, dead.alarm_id) == ("push", "Weekly report", None)


def test_a_way_removed_before_the_call_left_is_not_used_and_the_next_one_is(
    conn: Connection, notifying: Running
) -> None:
    with open_way("push") as phone, open_way("webhook") as spare:
        on_call_by(conn, "Ane", phone, spare)
        raised(conn)
        conn.execute("UPDATE contact SET removed_at = now() WHERE way = 'push'")
        with notifying():
            wait_until(lambda: sorted(states(conn)) == ["dead", "sent"], "the next way is used")
        assert phone.server.calls == []


def test_a_call_on_its_way_to_a_device_follows_it_to_its_changed_subscription(
    conn: Connection, notifying: Running
) -> None:
    with open_way("push") as phone, open_way("push") as changed:
        who = on_call_by(conn, "Ane", phone)
        raised(conn)
        conn.execute("UPDATE contact SET removed_at = now(), removed_why = 'renewed'")
        reached_by(conn, who, changed)
        with notifying():
            wait_until(lambda: sorted(states(conn)) == ["dead", "sent"], "the device is reached")
        assert (len(phone.server.calls), len(changed.server.calls)) == (0, 1)


def test_somebody_whose_account_was_closed_is_told_nothing_more(conn: Connection, notifying: Running) -> None:
    with open_way("webhook") as hook:
        on_call_by(conn, "Ane", hook)
        raised(conn)
        conn.execute("UPDATE person SET disabled_at = now()")
        with notifying():
            wait_until(lambda: states(conn) == ["withdrawn"], "it is withdrawn")
        assert hook.server.calls == []
