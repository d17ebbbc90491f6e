"""Which rows of a file are readings: judged by ingest's own rules, a whole piece at a time.

Not here: the rules, which are `ingest.accept`'s and the units table's. What follows from a channel's name and its unit
is worked out once for each pair; the rest is arithmetic on columns.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Literal
from uuid import UUID

import numpy as np
import pyarrow.compute as pc
from numpy.typing import NDArray

from wickwatch.agronomy.units import QUANTITIES
from wickwatch.cli.readings_file import RFC3339, Piece
from wickwatch.ingest.accept import Slot, Window, heard, slot
from wickwatch.ingest.reasons import PackRefused, Reason, shown
from wickwatch.store import channels
from wickwatch.store.connect import Connection
from wickwatch.store.readings import Rows

#: Ingest's reasons, and two that only a file can give.
FileReason = Reason | Literal["row", "time"]

_ORDER: tuple[FileReason, ...] = ("time", "not-finite", "out-of-range", "future", "too-old")
_NO_SLOT = Slot(0, 0.0, 0.0, 0.0, 0.0)


@dataclass(frozen=True)
class Reject:
    """A row that is no reading: its line or row number, why, and what of it."""

    number: int
    reason: FileReason
    detail: str


class Judge:
    """Judges rows of one facility's file; registers channels that were never heard."""

    def __init__(self, conn: Connection, facility_id: UUID, taken: Window) -> None:
        self._conn = conn
        self._facility_id = facility_id
        self._taken = taken
        self._slots: dict[tuple[str | None, str | None], Slot | PackRefused] = {}

    def judge(self, piece: Piece) -> tuple[Rows, list[Reject]]:
        """Readings of a piece, and the rows that are none, in order."""
        slots, which = self._slots_of(piece)
        table = np.array([_NO_SLOT if isinstance(one, PackRefused) else one for one in slots], dtype=np.float64)
        refused = np.array([isinstance(one, PackRefused) for one in slots], dtype=np.bool_)
        channel_id, scale, offset, low, high = table.reshape(-1, 5)[which].T
        stored = piece.value * scale + offset
        seconds = piece.at.astype(np.int64) / 1e6
        bad = {
            "time": np.isnat(piece.at),
            "not-finite": ~np.isfinite(stored),
            "out-of-range": (stored < low) | (stored > high),
            "future": seconds > self._taken.newest,
            "too-old": seconds < self._taken.oldest,
        }
        why = np.select([refused[which], *(bad[reason] for reason in _ORDER)], range(len(_ORDER) + 1), -1)
        good = why < 0
        rows = Rows(channel_id[good].astype(np.int32), piece.at[good], stored[good])
        rejects = []
        for place in np.flatnonzero(~good).tolist():
            one = slots[which[place]]
            if isinstance(one, PackRefused):
                rejects.append(Reject(int(piece.numbers[place]), one.reason, one.detail))
            else:
                reason = _ORDER[why[place] - 1]
                rejects.append(Reject(int(piece.numbers[place]), reason, _detail(piece, place, reason, one)))
        return rows, rejects

    def _slots_of(self, piece: Piece) -> tuple[list[Slot | PackRefused], NDArray[np.intp]]:
        """How each pair of channel and unit in a piece is stored, and which pair each row has."""
        names, units = piece.channel.dictionary_encode(), piece.unit.dictionary_encode()
        name, unit = (pc.fill_null(one.indices, -1).to_numpy(zero_copy_only=False) for one in (names, units))
        known_names = [*names.dictionary.to_pylist(), None]
        known_units = [*units.dictionary.to_pylist(), None]
        pairs, which = np.unique(
            name.astype(np.int64) * len(known_units) + unit % len(known_units), return_inverse=True
        )
        keys = [
            (known_names[pair // len(known_units)], known_units[pair % len(known_units)]) for pair in pairs.tolist()
        ]
        self._learn([key for key in keys if key not in self._slots])
        return [self._slots[key] for key in keys], which

    def _learn(self, keys: list[tuple[str | None, str | None]]) -> None:
        wanted: list[tuple[tuple[str | None, str | None], channels.Heard]] = []
        for key in keys:
            try:
                wanted.append((key, heard(key[0] or "", _spelt(key[0] or "", key[1]))))
            except PackRefused as refusal:
                self._slots[key] = refusal
        if not wanted:
            return
        found = channels.register(self._conn, self._facility_id, None, [one for _, one in wanted])
        by_name = {channel.name: channel for channel in found}
        for key, one in wanted:
            channel = by_name[one.name]
            unit = channel.unit if not key[1] and channel.unit in QUANTITIES[channel.quantity].kept_units else key[1]
            try:
                self._slots[key] = slot(channel, _spelt(one.name, unit) or "")
            except PackRefused as refusal:
                self._slots[key] = refusal


def as_stored(quantity: str) -> str:
    """The unit in which a quantity is written that is stored as it comes, spelt as RFC 8428 and RFC 8798 do."""
    return next(unit for unit, factors in QUANTITIES[quantity].factors.items() if factors == (1.0, 0.0))


def _spelt(name: str, unit: str | None) -> str | None:
    """A unit as readings carry it; where none is given, or the stored one by our own name, the one it is stored in."""
    quantity = name.rpartition(":")[2]
    if quantity in QUANTITIES and (not unit or unit == QUANTITIES[quantity].stored_unit):
        return as_stored(quantity)
    return unit


def _detail(piece: Piece, place: int, reason: FileReason, rule: Slot) -> str:
    if reason == "time":
        text = piece.at_text[place].as_py()
        if isinstance(text, str) and not re.match(RFC3339, text) and re.match(RFC3339, f"{text}Z"):
            return f"{shown(text)} has no time zone"
        return f"{shown(text)} is no time as RFC 3339 writes it"
    if reason in ("not-finite", "out-of-range"):
        limits = (
            f"; possible are {rule.low:g} to {rule.high:g} in the unit it is kept in"
            if reason == "out-of-range"
            else ""
        )
        return f"{shown(piece.channel[place].as_py())} is {shown(piece.value_text[place].as_py())}{limits}"
    return f"{shown(piece.channel[place].as_py())} at {piece.at_text[place].as_py()}"
