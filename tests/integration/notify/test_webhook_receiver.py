"""The receiver we hand out takes what we send once, and refuses a replay, an old timestamp and a changed body."""

from __future__ import annotations

import importlib.util
import time
from pathlib import Path
from types import ModuleType

import pytest

from tests.integration.alarms.house import on_call
from tests.integration.notify.conftest import Running
from tests.integration.notify.test_mail_arrives import raised, states
from tests.parts.process import wait_until
from tests.parts.webhook import Call, Receiver
from wickwatch.store.connect import Connection
from wickwatch.store.contacts import new_secret

PATH = Path(__file__).parents[3] / "deploy" / "webhook-receiver.py"


@pytest.fixture
def handed_out() -> ModuleType:
    spec = importlib.util.spec_from_file_location("webhook_receiver", PATH)
    assert spec is not None and spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_a_real_call_is_acted_on_once_and_every_forgery_is_refused(
    conn: Connection, receiver: Receiver, notifying: Running, handed_out: ModuleType
) -> None:
    secret = new_secret()
    on_call(conn, "Ane", "webhook", receiver.url, secret)
    raised(conn)
    with notifying():
        (call,) = receiver.wait_for(1)
        wait_until(lambda: states(conn) == ["sent"], "it is recorded")
    now = time.time()

    def fresh(**changes: str) -> Call:
        return Call(call.method, call.path, call.headers | {f"webhook-{k}": v for k, v in changes.items()}, call.body)

    def judged(given: Call, at: float = now, body: bytes | None = None) -> int:
        status: int = handed_out.Checker(secret).status(given.headers, given.body if body is None else body, at)
        return status

    checker = handed_out.Checker(secret)
    assert checker.status(call.headers, call.body, now) == 200
    assert checker.status(call.headers, call.body, now + 1) == 208, "played again: known, and not acted on"
    assert judged(call, now + 301) == 400, "played again later, to a receiver that forgot"
    assert judged(fresh(timestamp=str(int(now) + 290)), now + 300) == 400, "with a younger timestamp"
    assert judged(call, body=call.body.replace(b"Pot 1", b"Pot 2")) == 400
    assert judged(fresh(id="another")) == 400
    assert judged(fresh(signature="v1,")) == 400
    assert judged(fresh(signature=f"v1,wrong {call.headers['webhook-signature']}")) == 200, "any of several may fit"
    assert handed_out.Checker(new_secret()).status(call.headers, call.body, now) == 400


def test_an_id_is_forgotten_only_when_its_timestamp_is_refused_anyway(handed_out: ModuleType) -> None:
    from datetime import UTC, datetime

    from wickwatch.notify.signature import headers
    from wickwatch.store.contacts import signing_key

    secret, at = new_secret(), datetime(2026, 11, 25, tzinfo=UTC)
    checker = handed_out.Checker(secret)
    signed = headers(signing_key(secret), "a", at, b"{}")
    for off in (-300, 0, 300):
        assert checker.status(signed, b"{}", at.timestamp() + off) == (200 if off == -300 else 208)
    assert checker.status(signed, b"{}", at.timestamp() + 301) == 400
