"""A batch of readings in columns, as a database's COPY or a Parquet file takes them.

Not here: packs for a broker (`senml`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from wickwatch_simulator.channels import Channels


@dataclass(frozen=True)
class Chunk:
    """Readings in order of time, in three columns of one length.

    `channel` numbers into `channels.names`, `at` is UTC (datetime64[us]), `value` is in the unit of `channels.units`.
    """

    channels: Channels
    channel: NDArray[np.int32]
    at: NDArray[np.datetime64]
    value: NDArray[np.float64]

    def __len__(self) -> int:
        return len(self.value)

    def frame(self) -> pd.DataFrame:
        """Columns facility, channel, at, value, unit; texts are categories, so that a large batch stays small."""
        names = self.channels
        units = sorted(set(names.units))
        unit_of = np.array([units.index(u) for u in names.units], dtype=np.int8)
        return pd.DataFrame(
            {
                "facility": _texts(names.facility[self.channel], names.facilities),
                "channel": _texts(self.channel, names.names),
                "at": pd.DatetimeIndex(self.at).tz_localize("UTC"),
                "value": self.value,
                "unit": _texts(unit_of[self.channel], units),
            }
        )


def _texts(codes: NDArray[np.integer[Any]], names: Sequence[str]) -> pd.Categorical[Any]:
    return pd.Categorical.from_codes(codes, pd.Index(list(names)))


def joined(
    channels: Channels, parts: Sequence[tuple[NDArray[np.int32], NDArray[np.int64], NDArray[np.float64]]]
) -> Chunk:
    """One chunk from pieces of (channel, time in microseconds since 1970, value), sorted by time, then channel."""
    channel = np.concatenate([p[0] for p in parts]) if parts else np.empty(0, dtype=np.int32)
    at_us = np.concatenate([p[1] for p in parts]) if parts else np.empty(0, dtype=np.int64)
    value = np.concatenate([p[2] for p in parts]) if parts else np.empty(0)
    order = np.lexsort((channel, at_us))
    return Chunk(channels, channel[order], at_us[order].astype("datetime64[us]"), value[order])
