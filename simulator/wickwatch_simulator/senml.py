"""Readings as SenML packs (RFC 8428) on the contract's topics, in JSON or CBOR.

Only the sending side: packs say `bver` 26, as RFC 9100 asks where units are secondary ones (hPa, mm). Not here: what
gateways do to messages on the way (`gateways`), nor the broker (`publish`).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import cbor2
import numpy as np
import orjson
from numpy.typing import NDArray

from wickwatch.errors import InputError
from wickwatch_simulator.chunk import Chunk

VERSION = 26
#: Most records of one pack; gateways of small memory send little at a time.
MOST_RECORDS = 20
#: Labels of RFC 8428 table 4 for CBOR.
CBOR_LABELS = {"bver": -1, "bn": -2, "bt": -3, "n": 0, "u": 1, "v": 2}


@dataclass(frozen=True)
class Pack:
    """One message. `gathered_s` is the time [s since 1970] of its newest reading by the gateway's clock."""

    topic: str
    payload: bytes
    gathered_s: float


def senml_packs(
    chunk: Chunk, facility: str, gateway: str, cbor: bool = False, most: int = MOST_RECORDS, window_s: int = 0
) -> list[tuple[str, bytes]]:
    """(topic, payload) of all readings in the chunk that came by one gateway, oldest first.

    A pack holds up to `most` records; with `window_s` only of one such window of time. Raises InputError for a
    gateway that is not in the fleet.
    """
    names = [(f, g.slug) for f, g in chunk.channels.gateways]
    if (facility, gateway) not in names:
        raise InputError("gateway", f"{facility}/{gateway}", ", ".join(f"{f}/{g}" for f, g in names[:20]))
    number = names.index((facility, gateway))
    rows = np.flatnonzero(chunk.channels.gateway[chunk.channel] == number)
    return [(p.topic, p.payload) for p in _packs(chunk, rows, number, cbor, most, window_s)]


def packs_by_gateway(chunk: Chunk, cbor: bool = False, most: int = MOST_RECORDS) -> Iterator[tuple[int, Pack]]:
    """(gateway number, pack) of a whole chunk, gateway by gateway, oldest first; windows as each gateway batches."""
    of = chunk.channels.gateway[chunk.channel]
    order = np.argsort(of, kind="stable")
    numbers, first = np.unique(of[order], return_index=True)
    for number, rows in zip(numbers, np.split(order, first[1:]), strict=True):
        window_s = chunk.channels.gateways[number][1].batch_s
        for pack in _packs(chunk, rows, int(number), cbor, most, window_s):
            yield int(number), pack


def _packs(chunk: Chunk, rows: NDArray[np.intp], number: int, cbor: bool, most: int, window_s: int) -> Iterator[Pack]:
    facility, gateway = chunk.channels.gateways[number]
    topic = f"wickwatch/1/{facility}/{gateway.slug}/" + ("senml-cbor" if cbor else "senml")
    names, units = chunk.channels.names, chunk.channels.units
    at_s = chunk.at[rows].astype("datetime64[us]").astype(np.int64) / 1e6
    records: list[dict[str, Any]] = []
    base: tuple[str, float] = ("", -1.0)
    last_s = 0.0
    for at, channel, value in zip(at_s.tolist(), chunk.channel[rows].tolist(), chunk.value[rows].tolist(), strict=True):
        if records and (len(records) >= most or (window_s and at // window_s != last_s // window_s)):
            yield Pack(topic, _encoded(records, cbor), last_s)
            records = []
        device, quantity = names[channel].rsplit(":", 1)
        record: dict[str, Any] = {"n": quantity, "u": units[channel], "v": value}
        if not records:
            record = {"bver": VERSION, "bn": device + ":", "bt": at} | record
        elif base != (device, at):
            record = {"bn": device + ":", "bt": at} | record
        base, last_s = (device, at), at
        records.append(record)
    if records:
        yield Pack(topic, _encoded(records, cbor), last_s)


def _encoded(records: list[dict[str, Any]], cbor: bool) -> bytes:
    if cbor:
        return cbor2.dumps([{CBOR_LABELS[key]: value for key, value in record.items()} for record in records])
    return orjson.dumps(records)
