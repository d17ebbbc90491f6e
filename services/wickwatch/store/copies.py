"""Numbers for the copies of a part that run at once, each held by a lock as long as its connection lives.

A copy that starts again gets the lowest free number, so it takes the place of the one that ended. Not here: what a
number stands for.
"""

from __future__ import annotations

from typing import LiteralString

from wickwatch.store.connect import Connection

#: First key of the locks, by part; the second is the number.
LOCKS = {"ingest": 7_230_111}

#: More copies than this are a mistake.
MOST = 64

# Taken for as long as the connection lives, or not at all.
_TRY: LiteralString = "SELECT pg_try_advisory_lock(%s, %s)"


def claim(conn: Connection, part: str) -> int | None:
    """Take the lowest free number from 1, or `None` where there are too many copies. Ends no transaction."""
    for number in range(1, MOST + 1):
        if hold(conn, part, number):
            return number
    return None


def hold(conn: Connection, part: str, number: int) -> bool:
    """Take one number, if nobody else has it."""
    row = conn.execute(_TRY, (LOCKS[part], number)).fetchone()
    return row is not None and bool(row[0])
