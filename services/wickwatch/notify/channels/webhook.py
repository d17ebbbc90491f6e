"""Signed webhooks: one POST of JSON for each notice, by the Standard Webhooks convention.

The key is sent as the webhook's id and as an idempotency key. Not here: the signature itself.
"""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import datetime

from wickwatch.alarms.as_json import rfc3339
from wickwatch.errors import InputError
from wickwatch.notify import signature
from wickwatch.notify.channels.channel import Result
from wickwatch.notify.channels.post import post
from wickwatch.store.contacts import signing_key
from wickwatch.store.notices import Claimed
from wickwatch.urls import WEB_SCHEMES, endpoint

#: The receiver says that it wants no more of these (Standard Webhooks).
_GONE = 410


class Webhook:
    """Posts to whatever address a contact names."""

    def send(self, notice: Claimed, at: datetime) -> Result:
        """Post the notice once; taken means an answer from 200 to 299."""
        try:
            endpoint(notice.address, WEB_SCHEMES)
            key = signing_key(notice.secret or "")
        except InputError as error:
            return Result(False, str(error), final=True)
        content = body(notice)
        headers = signature.headers(key, notice.key, at, content) | {
            "content-type": "application/json",
            "idempotency-key": notice.key,
        }
        result, status = post(notice.address, content, headers)
        return replace(result, final=True) if status == _GONE else result


def body(notice: Claimed) -> bytes:
    """What is posted: the alarm as the contract shows it, under the convention's envelope; the same for every try."""
    data: dict[str, object] = {"title": notice.title, "text": notice.body}
    if notice.purpose != "test":
        data[{"call": "alarm", "report": "report"}[notice.purpose]] = notice.payload
    kind = {"call": "alarm.called", "test": "contact.tested", "report": "report.made"}[notice.purpose]
    envelope = {"type": kind, "timestamp": rfc3339(notice.created_at), "data": data}
    return json.dumps(envelope, ensure_ascii=False, separators=(",", ":")).encode()
