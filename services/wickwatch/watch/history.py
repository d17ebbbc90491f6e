"""Stored readings as of any later and later moment: what a backtest looks at instead of the live window.

Buckets are put in a day ahead and each look ends at its moment: the same numbers as the live watch had. They are
computed from the readings themselves, so that history of any age will do, or taken from rollups where these are
complete. Not here: stepping through the moments (`watch.replay`).
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta
from uuid import UUID

import numpy as np
from numpy.typing import NDArray

from wickwatch.detect import Frame
from wickwatch.store import frames
from wickwatch.store.connect import Connection
from wickwatch.watch.grids import Grids, stamp

_AHEAD = timedelta(days=1)
_NOTHING: NDArray[np.void] = np.empty(0, dtype=frames.LAST_ROW)


class History:
    """One facility's readings from 21 days before `start` on; `frame` is asked for moments in ascending order.

    With `channels`, ids ascending, only theirs.
    """

    def __init__(
        self,
        conn: Connection,
        facility_id: UUID,
        start: datetime,
        *,
        rolled_up: bool = False,
        channels: Sequence[int] | None = None,
    ) -> None:
        self._conn = conn
        self._fine, self._coarse = (
            (frames.fine_rows, frames.coarse_rows)
            if rolled_up
            else (frames.fine_rows_of_readings, frames.coarse_rows_of_readings)
        )
        self._facility_id = facility_id
        self._channels = channels
        ids = frames.channel_ids(conn, facility_id) if channels is None else np.array(channels, dtype=np.int64)
        self._grids = Grids(ids, start, int(_AHEAD / timedelta(hours=1)) + 1)
        self._loaded = start
        self._coming = _NOTHING
        self._put(self._grids.coarse_from(), start)
        for packed in frames.last_rows(conn, facility_id, self._grids.coarse_from(), start, channels):
            self._grids.put_newest(packed)

    def frame(self, as_of: datetime) -> Frame:
        """What the live watch would have looked at as of a moment."""
        while self._loaded < as_of:
            until = self._loaded + _AHEAD
            self._grids.make_room(self._loaded, until)
            self._put(self._loaded, until)
            rows = [*frames.reading_rows(self._conn, self._facility_id, self._loaded, until, self._channels)]
            coming = np.concatenate([self._coming, *rows])
            self._coming = coming[np.argsort(coming["last_at"], kind="stable")]
            self._loaded = until
        arrived = int(np.searchsorted(self._coming["last_at"], stamp(as_of).astype(np.int64), side="right"))
        self._grids.put_newest(self._coming[:arrived])
        self._coming = self._coming[arrived:]
        return self._grids.frame(as_of)

    def _put(self, start: datetime, end: datetime) -> None:
        # The hour that `start` lies in was not whole before: it is computed again.
        start = start.replace(minute=0, second=0, microsecond=0)
        for packed in self._fine(self._conn, self._facility_id, start, end, self._channels):
            self._grids.put_fine(packed)
        for packed in self._coarse(self._conn, self._facility_id, start, end, self._channels):
            self._grids.put_coarse(packed)
