"""One batch of packets into the database: judged, registered, stored, or quarantined, in the caller's transaction.

Not here: where packets come from (`session`) and what is done when the database fails (`writer`). Packets of every
facility go together: one COPY costs the same for one as for a hundred.
"""

from __future__ import annotations

import logging
from collections import Counter
from collections.abc import Container, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import Literal, NamedTuple, cast
from uuid import UUID

import numpy as np

from wickwatch.ingest.accept import Columns, Key, accept, check_size
from wickwatch.ingest.forms import Form
from wickwatch.ingest.heard import Directory, Source
from wickwatch.ingest.pack import Pack, Record
from wickwatch.ingest.reasons import Fault, PackRefused, Reason, shown
from wickwatch.ingest.senml import parse
from wickwatch.ingest.topics import FORMS, address
from wickwatch.store import channels, first_readings, quarantine, readings
from wickwatch.store.connect import Connection

#: A gateway's last pack is noted no more often than this.
MARKED_EVERY_S = 2.0


class Packet(NamedTuple):
    """One message as it arrived at `arrived` (seconds since 1970 UTC). The rest is what acknowledging it takes."""

    topic: str
    payload: bytes
    arrived: float
    mid: int = 0
    qos: int = 0
    repeated: bool = False
    connection: int = 0


class Outcome(NamedTuple):
    """What became of a batch: of its readings, and of what was refused, a row for each packet and reason."""

    written: readings.Written
    refused: list[quarantine.Quarantined]


@dataclass
class _Batch:
    """What is gathered from packets before anything is written."""

    columns: dict[UUID, Columns] = field(default_factory=dict)
    unknown: list[tuple[Packet, Source, list[Record]]] = field(default_factory=list)
    heard: dict[UUID, datetime] = field(default_factory=dict)
    refused: list[quarantine.Quarantined] = field(default_factory=list)


def write_batch(
    conn: Connection, directory: Directory, packets: Sequence[Packet], *, likely_new: bool = True
) -> Outcome:
    """Store what can be stored of these packets and quarantine the rest, in the caller's transaction.

    Only the database's own exceptions leave this function; after one, the caller clears the directory.
    """
    outcome = store_batch(conn, directory, packets, likely_new=likely_new)
    quarantine.add(conn, outcome.refused)
    return outcome


def store_batch(
    conn: Connection, directory: Directory, packets: Sequence[Packet], *, likely_new: bool = True
) -> Outcome:
    """The same, but what is refused is only returned."""
    batch = _Batch()
    for packet in packets:
        _judge(conn, directory, packet, batch)
    _learn(conn, batch)
    rows = _rows(batch.columns)
    written = readings.write_all(conn, rows, likely_new=likely_new)
    first_readings.begin(conn, rows.values(), datetime.now(UTC))
    channels.mark_heard(conn, batch.heard)
    return Outcome(written, batch.refused)


def quarantine_packet(packet: Packet, detail: str, conn: Connection) -> Outcome:
    """Put a whole packet aside that the database itself refused, so that it can't hold up those behind it."""
    outcome = refused_whole(packet, detail)
    quarantine.add(conn, outcome.refused)
    return outcome


def refused_whole(packet: Packet, detail: str) -> Outcome:
    """A packet of which the database itself refused to store anything."""
    batch = _Batch()
    _refuse(batch, packet, None, "internal", detail, 1)
    return Outcome(readings.Written(0, 0, 0), batch.refused)


def _judge(conn: Connection, directory: Directory, packet: Packet, batch: _Batch) -> None:
    source = None
    try:
        facility, gateway, kind = address(packet.topic)
        source = directory.source(conn, facility, gateway, packet.arrived)
        if kind == "status":
            _status(conn, source, packet)
            return
        _note_heard(source, packet, batch)
        check_size(packet.payload)
        columns = batch.columns.get(source.site.id)
        if columns is None:
            columns = batch.columns[source.site.id] = Columns()
        pack = _resolved(packet, FORMS[kind], source.site.channels)
        unknown, faults = accept(pack, source.slots, source.window(packet.arrived), columns)
        if unknown:
            batch.unknown.append((packet, source, unknown))
        if pack.faults or faults:
            _refuse_records(batch, packet, source, [*pack.faults, *faults])
    except PackRefused as refused:
        _refuse(batch, packet, source, refused.reason, refused.detail, 1)


def _resolved(packet: Packet, form: Form, known: Container[str]) -> Pack:
    """As `parse`; an error of our own is loud in the log, but does not stop the stream behind it."""
    try:
        return parse(packet.payload, form, packet.arrived, known)
    except PackRefused:
        raise
    except Exception as error:
        logging.getLogger("wickwatch").exception("pack.failed topic=%s", packet.topic)
        raise PackRefused("internal", f"{type(error).__name__}: {shown(str(error))}") from error


def _learn(conn: Connection, batch: _Batch) -> None:
    """Records of names not known yet, all of a gateway together: a new site's first batch has thousands."""
    by_source: dict[int, tuple[Source, dict[Key, None]]] = {}
    for _, source, records in batch.unknown:
        _, keys = by_source.setdefault(id(source), (source, {}))
        keys.update(((record.name, record.unit), None) for record in records)
    refused: dict[int, dict[Key, PackRefused]] = {}
    for source, keys in sorted(by_source.values(), key=lambda pair: pair[0].gateway_id):
        refused[id(source)] = source.learn(conn, keys)
    for packet, source, records in batch.unknown:
        why = refused[id(source)]
        again, faults = Pack(), []
        for record in records:
            problem = why.get((record.name, record.unit))
            if problem is None:
                again.add(record)
            else:
                faults.append(Fault(record.number, problem.reason, problem.detail))
        _, wrong = accept(again, source.slots, source.window(packet.arrived), batch.columns[source.site.id])
        _refuse_records(batch, packet, source, [*faults, *wrong])


def _status(conn: Connection, source: Source, packet: Packet) -> None:
    text = packet.payload[:20].decode("ascii", "replace")
    if text not in ("online", "offline"):
        raise PackRefused("status", f"status {text!a}")
    at = datetime.fromtimestamp(packet.arrived, UTC)
    channels.mark_status(conn, source.gateway_id, cast(Literal["online", "offline"], text), at)


def _note_heard(source: Source, packet: Packet, batch: _Batch) -> None:
    if packet.arrived - source.marked_at >= MARKED_EVERY_S:
        source.marked_at = packet.arrived
        batch.heard[source.gateway_id] = datetime.fromtimestamp(packet.arrived, UTC)


def _refuse_records(batch: _Batch, packet: Packet, source: Source, faults: Iterable[Fault]) -> None:
    """One row for each reason, telling of its first record."""
    by_reason: dict[Reason, list[Fault]] = {}
    for fault in faults:
        by_reason.setdefault(fault.reason, []).append(fault)
    for reason, alike in by_reason.items():
        first = min(alike)
        _refuse(batch, packet, source, reason, f"record {first.number}: {first.detail}", len(alike))


def _refuse(batch: _Batch, packet: Packet, source: Source | None, reason: Reason, detail: str, records: int) -> None:
    at = datetime.fromtimestamp(packet.arrived, UTC)
    facility_id = None if source is None else source.site.id
    row = quarantine.Quarantined(at, facility_id, packet.topic, packet.payload, reason, detail, records)
    batch.refused.append(row)


def _rows(by_facility: Mapping[UUID, Columns]) -> dict[UUID, readings.Rows]:
    return {
        facility_id: readings.Rows(
            np.array(columns.channel_ids, np.int32),
            np.rint(np.array(columns.at, np.float64) * 1e6).astype("M8[us]"),
            np.array(columns.values, np.float64),
        )
        for facility_id, columns in by_facility.items()
    }


def reasons(refused: Iterable[quarantine.Quarantined]) -> Counter[str]:
    """Records refused, by reason."""
    counts: Counter[str] = Counter()
    for row in refused:
        counts[row.reason] += row.records
    return counts
