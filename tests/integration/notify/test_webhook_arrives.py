"""A webhook arrives signed, with an id that stays, and goes nowhere else."""

from __future__ import annotations

import base64
import hashlib
import hmac
import time

from tests.integration.alarms.house import on_call, rows
from tests.integration.notify.conftest import Running
from tests.integration.notify.test_mail_arrives import raised, states
from tests.parts import webhook
from tests.parts.process import wait_until
from tests.parts.webhook import Call, Receiver
from tests.unit.alarms.places import HOUSE
from wickwatch.alarms import as_json
from wickwatch.store.connect import Connection
from wickwatch.store.contacts import new_secret


def verified(call: Call, secret: str, now: float | None = None) -> bool:
    """Whether a receiver that follows the Standard Webhooks convention takes the call; written from its text alone."""
    timestamp, sent = call.headers["webhook-timestamp"], call.headers["webhook-signature"]
    if abs((time.time() if now is None else now) - int(timestamp)) > 300:
        return False
    signed = call.headers["webhook-id"].encode() + b"." + timestamp.encode() + b"." + call.body
    mac = hmac.new(base64.b64decode(secret[len("whsec_") :]), signed, hashlib.sha256)
    return any(hmac.compare_digest(each, "v1," + base64.b64encode(mac.digest()).decode()) for each in sent.split(" "))


def test_a_webhook_verifies_with_its_secret_only_and_not_when_changed_or_played_again_later(
    conn: Connection, receiver: Receiver, notifying: Running
) -> None:
    secret = new_secret()
    on_call(conn, "Ane", "webhook", receiver.url + "hook?room=3", secret)
    (alarm,) = raised(conn).alarms
    with notifying():
        (call,) = receiver.wait_for(1)
        wait_until(lambda: states(conn) == ["sent"], "the notice is recorded")
    assert (call.method, call.path, call.headers["content-type"]) == ("POST", "/hook?room=3", "application/json")
    assert verified(call, secret)
    assert not verified(call, new_secret())
    assert not verified(Call(call.method, call.path, call.headers, call.body.replace(b"Pot 1", b"Pot 2")), secret)
    assert not verified(Call(call.method, call.path, call.headers | {"webhook-id": "other"}, call.body), secret)
    assert not verified(call, secret, now=time.time() + 301)
    ((key,),) = rows(conn, "SELECT key FROM notice")
    assert call.headers["webhook-id"] == call.headers["idempotency-key"] == key
    assert call.json["type"] == "alarm.called"
    assert call.json["data"]["title"] == "High: sudden wetting, Pot 1, Room 3"
    sent = call.json["data"]["alarm"]
    assert sent == as_json(alarm, HOUSE) | {"link": sent["link"]}


def test_every_try_has_the_same_id_and_body(conn: Connection, receiver: Receiver, notifying: Running) -> None:
    receiver.status = 500
    on_call(conn, "Ane", "webhook", receiver.url)
    raised(conn)
    with notifying():
        receiver.wait_for(3)
        receiver.status = 200
        wait_until(lambda: states(conn) == ["sent"], "it is taken")
    assert len({call.headers["webhook-id"] for call in receiver.calls}) == 1
    assert len({call.body for call in receiver.calls}) == 1
    assert rows(conn, "SELECT DISTINCT detail FROM notice_attempt WHERE NOT ok") == [("500 Internal Server Error",)]


def test_redirects_are_not_followed(conn: Connection, receiver: Receiver, notifying: Running) -> None:
    with webhook.running() as elsewhere:
        receiver.status, receiver.headers = 307, {"location": elsewhere.url}
        on_call(conn, "Ane", "webhook", receiver.url)
        raised(conn)
        with notifying():
            receiver.wait_for(2)
        assert elsewhere.calls == []
    assert rows(conn, "SELECT DISTINCT detail FROM notice_attempt")[0][0].endswith("and redirects are not followed")


def test_a_receiver_that_is_gone_for_good_is_not_asked_again(
    conn: Connection, receiver: Receiver, notifying: Running
) -> None:
    receiver.status = 410
    on_call(conn, "Ane", "webhook", receiver.url)
    raised(conn)
    with notifying():
        wait_until(lambda: states(conn) == ["dead"], "it is given up")
    assert len(receiver.calls) == 1
