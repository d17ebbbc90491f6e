"""A message to a browser arrives encrypted, says who sends it, and ends with the subscription."""

from __future__ import annotations

import time
from collections.abc import Iterator

import jwt
import pytest
from cryptography.exceptions import InvalidTag

from tests.integration.alarms.house import BASE_URL, rows
from tests.integration.notify.conftest import Running
from tests.integration.notify.test_mail_arrives import raised, states
from tests.integration.notify.ways import Way, on_call_by, open_way
from tests.parts.process import wait_until
from tests.parts.push import Device, claims
from tests.parts.web import SECRET_KEY
from wickwatch.errors import InputError
from wickwatch.notify import links, vapid
from wickwatch.store import contacts
from wickwatch.store.connect import Connection


@pytest.fixture
def phone() -> Iterator[Way]:
    with open_way("push") as opened:
        yield opened


def test_the_browser_alone_reads_title_sentence_and_its_own_link(
    conn: Connection, phone: Way, notifying: Running
) -> None:
    who = on_call_by(conn, "Ane", phone)
    (alarm,) = raised(conn).alarms
    with notifying(secret_key=SECRET_KEY, base_url=BASE_URL):
        (call,) = phone.server.wait_for(1)
        wait_until(lambda: states(conn) == ["sent"], "it is recorded")
    assert phone.device is not None
    told = phone.device.read(call)
    assert told["title"] == "High: sudden wetting, Pot 1, Room 3"
    assert told["body"] == alarm.message
    assert told["tag"] == str(alarm.id)
    link = links.read(SECRET_KEY, told["url"].removeprefix(f"{BASE_URL}/a/"))
    assert link is not None
    assert (link.person_id, link.alarm_id, link.until) == (
        who,
        alarm.id,
        alarm.raised_at.replace(microsecond=0) + links.LASTS,
    )
    assert call.headers["urgency"] == "high"
    assert 0 < int(call.headers["ttl"]) <= 6 * 3600
    with pytest.raises(InvalidTag):
        Device().read(call)
    assert alarm.message.encode() not in call.body


def test_the_statement_beside_it_is_signed_for_this_push_service_and_holds_half_a_day(
    conn: Connection, phone: Way, notifying: Running
) -> None:
    on_call_by(conn, "Ane", phone)
    key = vapid.load(conn, "wickwatch@example.net").public_key
    raised(conn)
    with notifying():
        (call,) = phone.server.wait_for(1)
    stated = claims(call, key, phone.server.url.rstrip("/"))
    assert stated["sub"] == "mailto:wickwatch@example.net"
    assert 0 < stated["exp"] - time.time() <= 12 * 3600
    with pytest.raises(jwt.InvalidAudienceError):
        claims(call, key, "https://another.example.org")


def test_the_key_is_made_once_for_all_copies(conn: Connection) -> None:
    first, second = (vapid.load(conn, "a@example.org").public_key for _ in range(2))
    assert first == second
    assert rows(conn, "SELECT count(*) FROM push_key") == [(1,)]


@pytest.mark.parametrize("status", [404, 410])
def test_a_subscription_that_ended_is_removed_and_the_next_way_is_used(
    conn: Connection, phone: Way, notifying: Running, status: int
) -> None:
    with open_way("webhook") as spare:
        who = on_call_by(conn, "Ane", phone, spare)
        phone.server.status = status
        raised(conn)
        with notifying():
            spare.server.wait_for(1)
            wait_until(lambda: sorted(states(conn)) == ["dead", "sent"], "both are recorded")
        assert len(phone.server.calls) == 1, "it is not asked again"
    assert [each.way for each in contacts.of_person(conn, who)] == ["webhook"]
    ((why,),) = rows(conn, "SELECT removed_why FROM contact WHERE removed_at IS NOT NULL")
    assert why.startswith(str(status))


def test_a_push_service_that_is_busy_keeps_the_subscription(conn: Connection, phone: Way, notifying: Running) -> None:
    who = on_call_by(conn, "Ane", phone)
    phone.server.status = 429
    raised(conn)
    with notifying():
        phone.server.wait_for(2)
        phone.server.status = 201
        wait_until(lambda: states(conn) == ["sent"], "it is taken")
    assert [each.way for each in contacts.of_person(conn, who)] == ["push"]


def test_an_address_nobody_can_post_to_is_a_dead_letter_at_once(conn: Connection, notifying: Running) -> None:
    on_call_by(conn, "Ane", Way("push", None, "https://1.2.3.999/1", Device().secret))
    raised(conn)
    with notifying():
        wait_until(lambda: states(conn) == ["dead"], "it is given up")
    ((detail,),) = rows(conn, "SELECT detail FROM notice_attempt")
    assert "not an address that can be posted to" in detail


def test_a_browser_belongs_to_whoever_added_it_last(conn: Connection) -> None:
    from datetime import UTC, datetime

    from tests.integration.alarms.house import person

    ane, bo, device = person(conn, "Ane"), person(conn, "Bo"), Device()
    given = ("https://push.example.org/send/1", device.key_text, device.auth_text, "phone", datetime.now(UTC))
    contacts.add_browser(conn, ane, *given)
    contacts.add_browser(conn, bo, *given)
    contacts.add_browser(conn, bo, *given)
    assert contacts.of_person(conn, ane) == []
    assert [each.label for each in contacts.reaches(conn, bo)] == ["phone"]


@pytest.mark.parametrize(
    ("address", "key"),
    [
        ("http://push.example.org/1", "good"),
        ("https://push.example.org/1", "short"),
        ("https://", "good"),
        ("https://push.example.org/" + "x" * 3000, "good"),
    ],
)
def test_a_subscription_that_cannot_work_is_refused(conn: Connection, address: str, key: str) -> None:
    from datetime import UTC, datetime

    from tests.integration.alarms.house import person

    device = Device()
    with pytest.raises(InputError):
        keys = (device.key_text if key == "good" else "AAAA", device.auth_text)
        contacts.add_browser(conn, person(conn, "Ane"), address, *keys, "", datetime.now(UTC))
