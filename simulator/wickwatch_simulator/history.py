"""A scenario's history as one file of readings: Parquet or CSV with the columns that `wickwatch import` takes.

Written chunk by chunk, so that a long history needs no more memory than a short one.
"""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta
from pathlib import Path

import pandas as pd
import pyarrow as pa
import pyarrow.parquet as pq

from wickwatch.errors import InputError
from wickwatch_simulator.chunk import Chunk
from wickwatch_simulator.simulation import Simulation

#: Columns in order; texts are dictionaries, so that a name is stored once.
SCHEMA = pa.schema(
    [
        ("channel", pa.dictionary(pa.int32(), pa.string())),
        ("at", pa.timestamp("us", "UTC")),
        ("value", pa.float64()),
        ("unit", pa.dictionary(pa.int8(), pa.string())),
    ]
)


def write(
    sim: Simulation,
    path: Path,
    interval: timedelta,
    facility: str | None = None,
    progress: Callable[[datetime, int], None] | None = None,
) -> int:
    """Run the scenario's history and write its readings, or those of one facility; returns how many.

    Raises InputError for another ending or a facility that is not there.
    """
    if path.suffix not in (".parquet", ".csv"):
        raise InputError("history file", str(path), "a name that ends in .parquet or .csv")
    if facility is not None and facility not in sim.channels.facilities:
        raise InputError("facility", facility, ", ".join(sim.channels.facilities))
    rows = 0
    scenario = sim.scenario
    writer = pq.ParquetWriter(path, SCHEMA, compression="zstd") if path.suffix == ".parquet" else None
    try:
        for number, chunk in enumerate(sim.run(scenario.start, scenario.end, interval)):
            frame = _of_facility(chunk, facility)
            if writer:
                writer.write_table(pa.Table.from_pandas(frame, schema=SCHEMA, preserve_index=False))
            else:
                frame["at"] = frame["at"].dt.strftime("%Y-%m-%dT%H:%M:%S.%fZ")
                frame.to_csv(path, mode="a" if number else "w", header=not number, index=False)
            rows += len(frame)
            if progress:
                progress(sim.now, rows)
    finally:
        if writer:
            writer.close()
    return rows


def _of_facility(chunk: Chunk, facility: str | None) -> pd.DataFrame:
    frame = chunk.frame()
    if facility is not None:
        frame = frame[frame["facility"] == facility]
    return frame.drop(columns="facility")
