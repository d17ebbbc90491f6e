"""A pack in quarantine tried again: by the rules of today, as of when it came, so that relative times stay true.

A facility may be known by now, or a channel may have got the unit or full scale it lacked. Not here: who may ask for
it (`web`), or how what is still refused is kept (`store.quarantine`).
"""

from __future__ import annotations

from datetime import datetime
from typing import NamedTuple

import psycopg

from wickwatch.ingest.heard import Directory
from wickwatch.ingest.writing import Outcome, Packet, refused_whole, store_batch
from wickwatch.store import quarantine
from wickwatch.store.connect import Connection


class Again(NamedTuple):
    """What became of a pack: readings stored, those known before, and records refused to this day."""

    stored: int
    known: int
    refused: int


def try_again(conn: Connection, id: int, now: datetime) -> Again | None:
    """Take the pack that a row of the quarantine is of, in the caller's transaction; None where all of it was taken.

    What was stored of it before is known, and stays as it is.
    """
    pack = quarantine.pack_of(conn, id)
    if not pack:
        return None
    first = pack[0]
    written, refused = _taken(conn, Packet(first.topic, first.payload, first.at.timestamp()))
    known = written.duplicates + written.conflicts
    quarantine.settle(conn, pack, refused, written.stored, known, now)
    return Again(written.stored, known, sum(row.records for row in refused))


def _taken(conn: Connection, packet: Packet) -> Outcome:
    """Its readings stored; where the database itself refuses the packet, as the writer calls that.

    Its gateway brought it long ago: where its devices are is told by newer packs.
    """
    try:
        with conn.transaction():
            return store_batch(conn, Directory(whole=False, moves=False), [packet], likely_new=False)
    except (psycopg.DataError, psycopg.IntegrityError) as error:
        return refused_whole(packet, str(error).partition("\n")[0])
