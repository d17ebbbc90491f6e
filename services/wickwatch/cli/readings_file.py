"""Files of readings, read in pieces: CSV or Parquet with the columns `channel`, `at`, `value` and perhaps `unit`.

Not here: whether a reading can be taken (`readings_judge`). Columns are worked on whole; only a piece in which
something can't be read goes through the slower way that finds out which rows those are.
"""

from __future__ import annotations

import csv
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.csv
import pyarrow.parquet
from numpy.typing import NDArray

from wickwatch.errors import InputError

#: Bytes of a CSV file, and rows of a Parquet file, that make one piece: about as many readings each.
_CSV_PIECE_BYTES = 8 << 20
_PARQUET_PIECE_ROWS = 130_000

_NEEDED = ("channel", "at", "value")
_COLUMNS = (*_NEEDED, "unit")
_ACCEPTED = "the columns channel, at, value and perhaps unit"

_UTC_US = pa.timestamp("us", "UTC")
RFC3339 = r"^\d{4}-\d{2}-\d{2}[Tt ]\d{2}:\d{2}:\d{2}(\.\d+)?([Zz]|[+-]\d{2}:\d{2})$"


@dataclass(frozen=True)
class Piece:
    """N rows: their line or row numbers, times and values; NaT and NaN where the text is none.

    `at_text` and `value_text` hold what stood there, for whoever has to be told.
    """

    numbers: NDArray[np.int64]
    channel: Any
    unit: Any
    at: NDArray[np.datetime64]
    value: NDArray[np.float64]
    at_text: Any
    value_text: Any


@dataclass
class Broken:
    """Lines of a CSV file that are no rows, by number, as they are met."""

    lines: list[tuple[int, str]]

    def taken(self) -> list[tuple[int, str]]:
        """Those met since the last call."""
        met, self.lines = self.lines, []
        return met


class ReadingsFile:
    """One file; its columns are looked at when it is opened. Raises InputError and OSError."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.broken = Broken([])
        self.parquet = path.suffix == ".parquet"
        self.rows = self._look_at_parquet() if self.parquet else self._look_at_csv()

    def pieces(self) -> Iterator[Piece]:
        """The rows, in order, in pieces of some hundred thousand."""
        try:
            yield from self._parquet_pieces() if self.parquet else self._csv_pieces()
        except pa.ArrowInvalid as error:
            raise InputError(
                str(self.path), str(error).splitlines()[0], "a file that can be read to its end"
            ) from error

    def _look_at_parquet(self) -> int | None:
        try:
            with pyarrow.parquet.ParquetFile(self.path) as file:
                schema = file.schema_arrow
                rows = int(file.metadata.num_rows)
        except pa.ArrowInvalid as error:
            raise InputError(str(self.path), str(error).splitlines()[0], "a Parquet file") from error
        _check_columns(self.path, schema.names)
        at, value = schema.field("at").type, schema.field("value").type
        if not _is_text(at) and not (pa.types.is_timestamp(at) and at.tz is not None):
            accepted = "times with a zone, or text as RFC 3339 writes them"
            raise InputError(f"{self.path}: type of column at", str(at), accepted)
        if not _is_text(value) and not pa.types.is_integer(value) and not pa.types.is_floating(value):
            raise InputError(f"{self.path}: type of column value", str(value), "numbers")
        for name in ("channel", "unit"):
            if name in schema.names and not _is_text(schema.field(name).type):
                raise InputError(f"{self.path}: type of column {name}", str(schema.field(name).type), "text")
        return rows

    def _look_at_csv(self) -> int | None:
        try:
            with self.path.open(encoding="utf-8-sig", newline="") as lines:
                names = next(csv.reader([lines.readline(65536)]), [])
        except UnicodeDecodeError as error:
            raise InputError(str(self.path), "bytes that are not UTF-8", "CSV in UTF-8, or Parquet") from error
        _check_columns(self.path, names)
        return None

    def _parquet_pieces(self) -> Iterator[Piece]:
        first = 1
        with pyarrow.parquet.ParquetFile(self.path) as file:
            for batch in file.iter_batches(_PARQUET_PIECE_ROWS):
                yield _piece(np.arange(first, first + batch.num_rows), batch)
                first += batch.num_rows

    def _csv_pieces(self) -> Iterator[Piece]:
        broken: list[int] = []

        def skip(row: Any) -> str:
            broken.append(row.number)
            why = f"{row.actual_columns} columns instead of {row.expected_columns}"
            self.broken.lines.append((row.number, why))
            return "skip"

        reader = pyarrow.csv.open_csv(
            self.path,
            read_options=pyarrow.csv.ReadOptions(use_threads=False, block_size=_CSV_PIECE_BYTES),
            parse_options=pyarrow.csv.ParseOptions(invalid_row_handler=skip, ignore_empty_lines=False),
            convert_options=pyarrow.csv.ConvertOptions(
                column_types={name: pa.string() for name in _COLUMNS}, strings_can_be_null=False
            ),
        )
        done = 0
        for batch in reader:
            numbers = _line_numbers(done, batch.num_rows, broken)
            done += batch.num_rows
            written = pc.not_equal(pc.binary_length(batch.column("at")), 0)
            written = pc.or_(written, pc.not_equal(pc.binary_length(batch.column("channel")), 0))
            keep = np.asarray(written)  # a line with nothing on it is no reading and no mistake
            yield _piece(numbers[keep], batch.filter(written))


def _check_columns(path: Path, names: Sequence[str]) -> None:
    wrong = [name for name in names if name not in _COLUMNS]
    if wrong or len(set(names)) != len(names) or any(name not in names for name in _NEEDED):
        raise InputError(f"{path}: columns", ", ".join(names), _ACCEPTED)


def _line_numbers(done: int, rows: int, broken: Sequence[int]) -> NDArray[np.int64]:
    """Line numbers of the rows after the first `done`, the header being line 1 and broken lines being no rows."""
    place = np.arange(done, done + rows)
    gone = np.sort(np.asarray(broken, dtype=np.int64))
    rows_before = gone - 2 - np.arange(len(gone))  # how many rows come before each broken line
    return place + 2 + np.searchsorted(rows_before, place, side="right")


def _is_text(kind: Any) -> bool:
    inner = kind.value_type if pa.types.is_dictionary(kind) else kind
    return bool(pa.types.is_string(inner) or pa.types.is_large_string(inner))


def _piece(numbers: NDArray[np.int64], batch: Any) -> Piece:
    column = {name: batch.column(name) for name in batch.schema.names}
    unit = column.get("unit")
    return Piece(
        numbers,
        column["channel"].cast(pa.string()),
        pa.nulls(batch.num_rows, pa.string()) if unit is None else unit.cast(pa.string()),
        _times(column["at"]),
        _values(column["value"]),
        column["at"],
        column["value"],
    )


def _times(given: Any) -> NDArray[np.datetime64]:
    if _is_text(given.type):
        text = given.cast(pa.string())
        try:
            found = pc.cast(text, _UTC_US)
        except pa.ArrowInvalid:
            return _times_one_by_one(text)
    else:
        found = given.cast(_UTC_US, safe=False)
    times: NDArray[np.datetime64] = found.to_numpy(zero_copy_only=False).astype("M8[us]")
    return times


def _times_one_by_one(text: Any) -> NDArray[np.datetime64]:
    """Times as RFC 3339 writes them, in any of its spellings; NaT for what is none."""
    good = pc.fill_null(pc.match_substring_regex(text, RFC3339), False)
    plain = pc.replace_substring_regex(pc.utf8_upper(pc.if_else(good, text, None)), r"(\.\d{6})\d+", r"\1")
    found = pd.to_datetime(pd.Series(plain.to_pandas(), dtype="object"), format="ISO8601", utc=True, errors="coerce")
    times: NDArray[np.datetime64] = found.dt.tz_localize(None).to_numpy().astype("M8[us]")
    return times


def _values(given: Any) -> NDArray[np.float64]:
    if not _is_text(given.type):
        numbers = pc.cast(given, pa.float64(), safe=False)
    else:
        text = given.cast(pa.string())
        try:
            numbers = pc.cast(text, pa.float64())
        except pa.ArrowInvalid:
            found = pd.to_numeric(pd.Series(text.to_pandas(), dtype="object"), errors="coerce")
            return np.asarray(found, dtype=np.float64)
    values: NDArray[np.float64] = pc.fill_null(numbers, float("nan")).to_numpy(zero_copy_only=False)
    return values
