"""How often a sign-in may be tried: by name and by address, so that guessing is slow and nobody is locked out for good.

Not here: passwords (`store.people`).
"""

from __future__ import annotations

from datetime import datetime, timedelta
from ipaddress import IPv6Address, ip_address
from typing import LiteralString

from wickwatch.store.access import digest, forget_ended
from wickwatch.store.connect import Connection

#: Failed sign-ins within the window before the next is refused: from one address for one name, from one address, and
#: for one name from anywhere. The last is high, so that a stranger can't lock somebody out for the asking.
WINDOW = timedelta(minutes=15)
TRIES_NAME_AND_ADDRESS = 5
TRIES_ADDRESS = 30
TRIES_NAME = 100

# A try is written before the password is looked at, so that many at once can't slip through.
_TRY: LiteralString = "INSERT INTO sign_in_try (name, address, at) VALUES (%s, %s, %s)"

# Tries of the window before this one: for the name from the address, from the address, for the name.
_TRIES: LiteralString = """
SELECT count(*) FILTER (WHERE name = %(name)s AND address = %(address)s), count(*) FILTER (WHERE address = %(address)s),
       count(*) FILTER (WHERE name = %(name)s), min(at)
FROM sign_in_try WHERE at > %(start)s AND (name = %(name)s OR address = %(address)s)
"""

# A sign-in that went well clears the count for that name and address.
_CLEAR: LiteralString = "DELETE FROM sign_in_try WHERE name = %s AND address = %s"

# Tries older than the window count for nothing.
_FORGET_TRIES: LiteralString = "DELETE FROM sign_in_try WHERE at <= %s"


def count_try(conn: Connection, name: str, address: str, at: datetime, device: str | None = None) -> timedelta | None:
    """Count one try to sign in; returns how long to wait where there were too many, else None.

    `device` marks a browser that this name signed in with before: it is counted by itself, so that whatever strangers
    try, the person gets in (OWASP, Slow Down Online Guessing Attacks with Device Cookies). The caller commits before
    it looks at the password.
    """
    key = {"name": name.lower()[:100], "address": _source(address, device), "start": at - WINDOW}
    conn.execute(_FORGET_TRIES, (at - WINDOW,))
    forget_ended(conn, at)
    row = conn.execute(_TRIES, key).fetchone()
    assert row is not None
    both, address_tries, name_tries, first = row
    if (
        both >= TRIES_NAME_AND_ADDRESS
        or address_tries >= TRIES_ADDRESS
        or (device is None and name_tries >= TRIES_NAME)
    ):
        wait: timedelta = first + WINDOW - at
        return wait
    conn.execute(_TRY, (key["name"], key["address"], at))
    return None


def forget_tries(conn: Connection, name: str, address: str, device: str | None = None) -> None:
    """Forget the failed tries of whoever got in."""
    conn.execute(_CLEAR, (name.lower()[:100], _source(address, device)))


def _source(address: str, device: str | None) -> str:
    """What tries are counted by: a known browser, an IPv4 address, or the network that an IPv6 address is of.

    Whoever has one IPv6 address has 2^64 of them (RFC 6177).
    """
    if device is not None:
        return f"device {digest(device).hex()[:32]}"
    try:
        known = ip_address(address)
    except ValueError:
        return address[:100]
    if isinstance(known, IPv6Address) and known.ipv4_mapped is None:
        return f"{IPv6Address(int(known) >> 64 << 64)}/64"
    return str(getattr(known, "ipv4_mapped", None) or known)
