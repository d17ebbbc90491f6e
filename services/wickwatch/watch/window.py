"""A facility's window of readings, kept between sweeps so that a sweep costs what is new and not what is stored.

A sweep rolls up what came in, copies just those buckets into the window and moves on; after a lost transaction, or
when channels were added, it is loaded afresh. Not here: the rolling up (`store.rollups`) or any judgement.
"""

from __future__ import annotations

from datetime import datetime, timedelta
from uuid import UUID

import numpy as np
from numpy.typing import NDArray

from wickwatch.detect import Frame
from wickwatch.store import frames
from wickwatch.store.connect import Connection
from wickwatch.store.rollups import COARSE, FINE, Refreshed
from wickwatch.watch.grids import Grids

#: Hours kept free to the right of the grids; they are moved left when that is used up.
_SPARE_HOURS = 2


class Window:
    """Both grids and the newest readings of one facility, as of the last `advance`."""

    def __init__(self, facility_id: UUID) -> None:
        self.facility_id = facility_id
        self._grids: Grids | None = None

    def forget(self) -> None:
        """Drop all; the next `advance` loads afresh. Called when a transaction was lost."""
        self._grids = None

    def advance(self, conn: Connection, as_of: datetime, refreshed: Refreshed) -> Frame:
        """Bring the window up to `as_of`, given which buckets were rolled up since the last call."""
        channels = frames.channel_ids(conn, self.facility_id)
        if self._grids is None or not np.array_equal(channels, self._grids.channels):
            self._grids = self._load(conn, channels, as_of)
        else:
            self._grids.make_room(as_of, as_of)
            self._take(conn, self._grids, refreshed)
        return self._grids.frame(as_of)

    def _load(self, conn: Connection, channels: NDArray[np.int64], as_of: datetime) -> Grids:
        grids = Grids(channels, as_of, _SPARE_HOURS)
        later = as_of + timedelta(hours=_SPARE_HOURS)
        for packed in frames.fine_rows(conn, self.facility_id, grids.fine_from(), later):
            grids.put_fine(packed)
        for packed in frames.coarse_rows(conn, self.facility_id, grids.coarse_from(), later):
            grids.put_coarse(packed)
        for packed in frames.last_rows(conn, self.facility_id, grids.coarse_from(), as_of):
            grids.put_newest(packed)
        return grids

    def _take(self, conn: Connection, grids: Grids, refreshed: Refreshed) -> None:
        for start, end in _spans(refreshed.fine, FINE):
            for packed in frames.fine_rows(conn, self.facility_id, start, end):
                grids.put_fine(packed)
                grids.put_newest(packed)
        for start, end in _spans(refreshed.coarse, COARSE):
            for packed in frames.coarse_rows(conn, self.facility_id, start, end):
                grids.put_coarse(packed)


def _spans(buckets: tuple[datetime, ...], width: timedelta) -> list[tuple[datetime, datetime]]:
    """Neighbouring buckets as [start, end) spans."""
    spans: list[tuple[datetime, datetime]] = []
    for at in buckets:
        if spans and spans[-1][1] == at:
            spans[-1] = (spans[-1][0], at + width)
        else:
            spans.append((at, at + width))
    return spans
