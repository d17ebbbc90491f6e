"""A table written to a CSV or Parquet file, piece by piece; the file takes its name when all of it is there.

Not here: what is in it. Times are RFC 3339 in UTC in CSV and timestamps in UTC in Parquet.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.csv
import pyarrow.parquet

_UTC_US = pa.timestamp("us", "UTC")

Write = Callable[[Any], None]


def schema(names: Sequence[str], numbers: Sequence[str] = ()) -> Any:
    """Columns by name: times where the name says so (`at`, `…_at`), numbers where told, else text."""

    def kind(name: str) -> Any:
        if name == "at" or name.endswith("_at"):
            return _UTC_US
        return pa.float64() if name in numbers else pa.string()

    return pa.schema([(name, kind(name)) for name in names])


def of_rows(rows: Sequence[tuple[Any, ...]], columns: Any) -> Any:
    """Rows as a table of these columns."""
    arrays = [pa.array(values, field.type) for values, field in zip(zip(*rows, strict=True), columns, strict=True)]
    return pa.table(arrays, schema=columns)


@contextmanager
def writing(path: Path, columns: Any) -> Iterator[Write]:
    """A function that appends tables to the file; what is half-written goes when the block fails."""
    part = path.with_name(path.name + ".part")
    try:
        with _parquet(part, columns) if path.suffix == ".parquet" else _csv(part, columns) as write:
            yield write
        part.replace(path)
    finally:
        part.unlink(missing_ok=True)


@contextmanager
def _parquet(path: Path, columns: Any) -> Iterator[Write]:
    with pyarrow.parquet.ParquetWriter(path, columns, compression="zstd") as writer:
        yield writer.write_table


@contextmanager
def _csv(path: Path, columns: Any) -> Iterator[Write]:
    as_text = pa.schema([(field.name, pa.string() if field.type == _UTC_US else field.type) for field in columns])
    options = pyarrow.csv.WriteOptions(quoting_style="needed")
    with pyarrow.csv.CSVWriter(path, as_text, write_options=options) as writer:
        yield lambda table: writer.write_table(_times_as_text(table, as_text))


def _times_as_text(table: Any, as_text: Any) -> Any:
    arrays = [
        pc.strftime(column, format="%Y-%m-%dT%H:%M:%SZ") if column.type == _UTC_US else column
        for column in table.columns
    ]
    return pa.table(arrays, schema=as_text)
