"""Web Push to a phone's or desk's browser (RFC 8030), encrypted so that only that browser reads it.

What is sent is a title, the first paragraph and the link; the rest is behind the link. A later call for the same alarm
replaces an earlier one that the device has not fetched yet (its topic). Not here: what the browser does with it
(`web/static/worker.js`).
"""

from __future__ import annotations

import json
import secrets
from base64 import urlsafe_b64encode
from collections.abc import Callable
from dataclasses import replace
from datetime import datetime
from hashlib import sha256

from cryptography.hazmat.primitives.asymmetric import ec

from wickwatch.errors import InputError
from wickwatch.notify.channels.channel import Result
from wickwatch.notify.channels.post import post
from wickwatch.notify.encryption import PLAIN_MOST, encrypt
from wickwatch.notify.vapid import Vapid
from wickwatch.store.contacts import browser_keys
from wickwatch.store.notices import Claimed
from wickwatch.urls import WEB_SCHEMES, endpoint

#: The subscription is no more (RFC 8030, section 7.3, and what services answer).
_GONE = (404, 410)
_TOO_LARGE = 413

#: The sentence of a message; phones show less.
_TEXT_MOST = 800


class Push:
    """Posts to push services; `vapid` is asked for when it is first needed."""

    def __init__(self, vapid: Callable[[], Vapid]) -> None:
        self._vapid = vapid

    def send(self, notice: Claimed, at: datetime) -> Result:
        """Post the notice once; taken means an answer from 200 to 299."""
        try:
            endpoint(notice.address, WEB_SCHEMES)
            key, secret = browser_keys(notice.secret or "")
            body = encrypt(
                message(notice), key, secret, ec.generate_private_key(ec.SECP256R1()), secrets.token_bytes(16)
            )
        except (InputError, ValueError) as error:
            return Result(False, str(error), final=True)
        headers = self._vapid().headers(notice.address, at) | {
            "content-encoding": "aes128gcm",
            "content-type": "application/octet-stream",
            "ttl": str(max(0, int((notice.expires_at - at).total_seconds()))),
            "urgency": "high" if notice.payload.get("priority") == "high" else "normal",
            "topic": topic(notice),
        }
        result, status = post(notice.address, body, headers)
        if status in _GONE:
            return Result(False, f"{result.detail}: the browser no longer takes messages", final=True, gone=True)
        return replace(result, final=True) if status == _TOO_LARGE else result


def message(notice: Claimed) -> bytes:
    """What the browser is told, as JSON; `tag` lets it show one notification for each alarm, and tell duplicates."""
    text = notice.body.strip().partition("\n\n")[0][:_TEXT_MOST]
    shown = {
        "title": notice.title,
        "body": text,
        "tag": str(notice.alarm_id or notice.key),
        "key": notice.key,
        "url": notice.payload.get("link", ""),
    }
    made = json.dumps(shown, ensure_ascii=False, separators=(",", ":")).encode()
    if len(made) > PLAIN_MOST:
        # Letters of several octets: the sentence gives way, since title and link must arrive.
        return json.dumps(shown | {"body": ""}, ensure_ascii=False, separators=(",", ":")).encode()
    return made


def topic(notice: Claimed) -> str:
    """What a later message replaces: 32 letters of base64url (RFC 8030, section 5.4)."""
    about = str(notice.alarm_id or notice.key)
    return urlsafe_b64encode(sha256(about.encode()).digest())[:32].decode()
