"""The one key that tells push services who sends (RFC 8292): made at first use, the same for every copy.

Browsers subscribe to this key, so a new one would end every subscription. Not here: signing with it (`notify.vapid`).
"""

from __future__ import annotations

from collections.abc import Callable
from typing import LiteralString

from wickwatch.store.connect import Connection

_READ: LiteralString = "SELECT private_pem FROM push_key"

# Of copies that make it at once the first one's is kept.
_KEEP: LiteralString = "INSERT INTO push_key (private_pem) VALUES (%s) ON CONFLICT (one) DO NOTHING"


def private_pem(conn: Connection, make: Callable[[], str]) -> str:
    """The private key as PEM; `make` is called where there is none yet."""
    row = conn.execute(_READ).fetchone()
    if row is None:
        conn.execute(_KEEP, (make(),))
        row = conn.execute(_READ).fetchone()
    assert row is not None
    pem: str = row[0]
    return pem
