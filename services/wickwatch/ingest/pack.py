"""A resolved pack: its records, and what of it could not be resolved.

Not here: how it is resolved (`senml`).
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any, NamedTuple

from wickwatch.ingest.reasons import Fault

Value = float | str | bool | bytes | None


class Record(NamedTuple):
    """One resolved record.

    `at` is in seconds since 1970 UTC, a double: good for a microsecond until the year 2255. `value` is a number, text,
    truth or octets, `None` where the record has only a `sum`. `number` is its place in the pack, from 0. Numbers from
    CBOR may be infinite or not a number.
    """

    name: str
    unit: str | None
    value: Value
    at: float
    sum: float | None
    number: int


@dataclass
class Pack:
    """What could be resolved, a column for each field of `Record` in the pack's order, and what could not.

    Columns, because a stream of small objects would cost more to make than all that is done with them.
    """

    names: list[str] = field(default_factory=list)
    units: list[str | None] = field(default_factory=list)
    values: list[Value] = field(default_factory=list)
    at: list[float] = field(default_factory=list)
    sums: list[float | None] = field(default_factory=list)
    numbers: list[int] = field(default_factory=list)
    faults: list[Fault] = field(default_factory=list)

    def add(self, record: Record) -> None:
        """Append one record."""
        columns: tuple[list[Any], ...] = (self.names, self.units, self.values, self.at, self.sums, self.numbers)
        for column, value in zip(columns, record, strict=True):
            column.append(value)

    @property
    def records(self) -> list[Record]:
        """The same as records."""
        columns = (self.names, self.units, self.values, self.at, self.sums, self.numbers)
        return [Record(*fields) for fields in zip(*columns, strict=True)]
