"""One pack taken in over another way than the broker, by the same rules: what HTTP's POST of readings calls.

Not here: who may do that (`web`).
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import NamedTuple

from wickwatch.errors import InputError
from wickwatch.ingest.heard import Directory
from wickwatch.ingest.writing import Packet, write_batch
from wickwatch.store.connect import Connection

#: Last level of the topic by media type (RFC 8428, 12.3).
MEDIA_TYPES: Mapping[str, str] = {"application/senml+json": "senml", "application/senml+cbor": "senml-cbor"}


class Rejected(NamedTuple):
    """Records of the pack refused for one reason; `detail` tells of the first."""

    reason: str
    detail: str
    records: int


class Taken(NamedTuple):
    """What became of a pack. A pack refused as a whole is one `Rejected`."""

    stored: int
    duplicates: int
    conflicts: int
    rejected: tuple[Rejected, ...]


def take(
    conn: Connection, facility_slug: str, gateway_slug: str, payload: bytes, content_type: str, now: datetime
) -> Taken:
    """Take a pack in as if the gateway had published it; in the caller's transaction, quarantine included.

    `content_type` may carry parameters. Raises InputError for a media type that is not SenML.
    """
    media_type = content_type.partition(";")[0].strip().lower()
    level = MEDIA_TYPES.get(media_type)
    if level is None:
        raise InputError("content type", content_type, " or ".join(MEDIA_TYPES))
    packet = Packet(f"wickwatch/1/{facility_slug}/{gateway_slug}/{level}", payload, now.timestamp())
    written, refused = write_batch(conn, Directory(whole=False), [packet])
    rejected = tuple(Rejected(row.reason, row.detail, row.records) for row in refused)
    return Taken(written.stored, written.duplicates, written.conflicts, rejected)
