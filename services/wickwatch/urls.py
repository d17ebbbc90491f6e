"""Addresses of brokers, mail servers and pages, taken apart; and shown without what they keep secret.

Database addresses are not taken apart here: the database's own client does that.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from urllib.parse import unquote, urlsplit

from wickwatch.errors import InputError

#: Default port by scheme. Submission of mail: RFC 6409 (587) and RFC 8314 (465).
MQTT_SCHEMES: Mapping[str, int] = {"mqtt": 1883, "mqtts": 8883}
MAIL_SCHEMES: Mapping[str, int] = {"smtp": 587, "smtps": 465}
WEB_SCHEMES: Mapping[str, int] = {"http": 80, "https": 443}

_WITH_PATH = frozenset(WEB_SCHEMES)


@dataclass(frozen=True)
class Endpoint:
    """Where a server is and how to sign in; `tls` means encrypted from the first byte."""

    scheme: str
    host: str
    port: int
    tls: bool
    username: str | None = None
    password: str | None = field(default=None, repr=False)


def endpoint(url: str, schemes: Mapping[str, int]) -> Endpoint:
    """Take an address apart; user and password may be percent-encoded (RFC 3986). Raises InputError."""
    accepted = " or ".join(f"{scheme}://user:password@host:{port}" for scheme, port in schemes.items())
    try:
        parts = urlsplit(url)
        host, port = parts.hostname, parts.port
    except ValueError:
        raise InputError("address", Hidden(url), accepted) from None
    whole = parts.scheme in _WITH_PATH or (parts.path in ("", "/") and not parts.query)
    if (
        parts.scheme not in schemes
        or not host
        or port == 0
        or not whole
        or parts.fragment
        or any(c.isspace() for c in url)
    ):
        raise InputError("address", Hidden(url), accepted)
    return Endpoint(
        scheme=parts.scheme,
        host=host,
        port=port or schemes[parts.scheme],
        tls=parts.scheme.endswith("s"),
        username=None if parts.username is None else unquote(parts.username),
        password=None if parts.password is None else unquote(parts.password),
    )


class Hidden:
    """Stands for an address in an error: its repr shows where it points, and nothing that may be secret."""

    def __init__(self, url: object) -> None:
        self._url = url

    def __repr__(self) -> str:
        if not isinstance(self._url, str):
            return f"a {type(self._url).__name__}"
        scheme, separator, rest = self._url.partition("://")
        if not separator or not scheme.isalnum():
            return "text that is not an address (hidden)"
        authority = re.split(r"[/?#]", rest, maxsplit=1)[0]
        # A password written without percent-encoding may itself hold "/", "?" or "@"; then nothing is sure.
        if "@" in rest[len(authority) :]:
            return repr(f"{scheme}://…")
        _, at, host = authority.rpartition("@")
        return repr(f"{scheme}://{'…@' if at else ''}{host}")
