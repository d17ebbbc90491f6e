"""PostgreSQL's binary COPY form, made and read with numpy a whole column at a time.

A reading has three numbers; making each an object on its way costs more than storing it. Not here: statements. Only
columns of fixed width without nulls: int4, int8, float8, timestamptz. The form is described in PostgreSQL's manual
under COPY, "Binary Format".
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

#: Times are int64 microseconds since 1970 on this side and since 2000 on the server's.
EPOCH_US = int(np.datetime64("2000-01-01", "us").astype(np.int64))

_HEADER = b"PGCOPY\n\xff\r\n\0" + bytes(8)
_TRAILER = b"\xff\xff"


def as_copy(columns: Sequence[NDArray[Any]]) -> bytes:
    """Columns of one length as COPY … FROM STDIN (FORMAT BINARY) takes them; datetime64[us] becomes timestamptz."""
    rows = np.empty(len(columns[0]), _row([column.dtype for column in columns]))
    rows["fields"] = len(columns)
    for index, column in enumerate(columns):
        rows[f"size{index}"] = column.dtype.itemsize
        rows[f"value{index}"] = column.astype(np.int64) - EPOCH_US if column.dtype.kind == "M" else column
    return _HEADER + rows.tobytes() + _TRAILER


def from_copy(data: bytes, types: Sequence[str]) -> tuple[NDArray[Any], ...]:
    """Columns of COPY … TO STDOUT (FORMAT BINARY), by numpy type; "M8[us]" is a timestamptz."""
    wanted = [np.dtype(each) for each in types]
    row = _row(wanted)
    rows = np.frombuffer(
        data, row, count=(len(data) - len(_HEADER) - len(_TRAILER)) // row.itemsize, offset=len(_HEADER)
    )
    columns = []
    for index, dtype in enumerate(wanted):
        column = rows[f"value{index}"]
        columns.append(
            (column.astype(np.int64) + EPOCH_US).astype(dtype) if dtype.kind == "M" else column.astype(dtype)
        )
    return tuple(columns)


def _row(types: Sequence[np.dtype[Any]]) -> np.dtype[np.void]:
    """One row: the number of fields, then of each its size and its value, all big-endian."""
    fields: list[tuple[str, str]] = [("fields", ">i2")]
    for index, dtype in enumerate(types):
        kind = "i" if dtype.kind == "M" else dtype.kind
        fields += [(f"size{index}", ">i4"), (f"value{index}", f">{kind}{dtype.itemsize}")]
    return np.dtype(fields)
