"""Signing webhooks by the Standard Webhooks convention, version 1 of its symmetric scheme.

Signed is `{id}.{timestamp}.{body}` with HMAC-SHA256. A receiver computes the same over the body's bytes as they came,
compares in constant time, and refuses a timestamp more than five minutes off and an id it has seen: that is what keeps
a captured request from being played again. Ids stay the same over retries, timestamps do not.
"""

from __future__ import annotations

import hmac
from base64 import b64encode
from datetime import datetime
from hashlib import sha256


def headers(key: bytes, id: str, at: datetime, body: bytes) -> dict[str, str]:
    """The three headers that go with a body; `key` are the bytes of the shared secret."""
    timestamp = str(int(at.timestamp()))
    signed = hmac.digest(key, f"{id}.{timestamp}.".encode() + body, sha256)
    return {
        "webhook-id": id,
        "webhook-timestamp": timestamp,
        "webhook-signature": f"v1,{b64encode(signed).decode()}",
    }
