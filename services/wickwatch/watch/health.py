"""Looks at the watching itself: signs of life of the parts, the sweeps, and room on the disk.

It runs beside the sweeps and not within them, so that a sweep that fails or hangs is noticed. Not here: the judgement
(`detect.monitoring`), nor the heartbeat that leaves the machine (`notify`), which is what tells when this stops too.
"""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from datetime import datetime, timedelta
from pathlib import Path
from uuid import UUID

from wickwatch.detect.monitoring import Stopped, monitoring
from wickwatch.store import fleet as stored_fleet
from wickwatch.store import jobs
from wickwatch.store.connect import Connection, connect
from wickwatch.texts import N_
from wickwatch.watch import sweep
from wickwatch.watch.schedule import SWEEP

EVERY = timedelta(seconds=30)

#: Parts without which nothing is watched or nobody is called, as people know them.
_NEEDED = {"ingest": N_("taking readings in"), "notify": N_("sending notices")}

#: A sweep may be missed now and then; this many in a row is no accident.
_SWEEPS_MISSED = 4

#: Below this a database soon stops writing.
DISK_FREE_BYTES = 1_000_000_000


class Health:
    """Judges the watching of every facility; `started` gives the other parts time to come up."""

    def __init__(
        self,
        database_url: str,
        base_url: str,
        data_folder: Path | None,
        started: datetime,
    ) -> None:
        self._database_url = database_url
        self._base_url = base_url
        self._data_folder = data_folder
        self._started = started

    def look(self, now: datetime) -> None:
        """Judge every facility once, as of now."""
        with connect(self._database_url, "health", autocommit=True) as conn:
            common = [*self._parts(conn, now), *self._disk(now)]
            for facility in stored_fleet.facilities(conn):
                with conn.transaction():
                    stopped = [*common, *self._sweeps(conn, facility.id, now)]
                    place = stored_fleet.load_facility(conn, facility.id, now)
                    sweep.step(
                        conn,
                        place,
                        monitoring(place, now, stopped),
                        [],
                        self._base_url,
                    )

    def _parts(self, conn: Connection, now: datetime) -> Iterator[Stopped]:
        beats = jobs.parts(conn)
        for part, words in _NEEDED.items():
            own = [beat for beat in beats if beat.part == part]
            if not any(beat.alive for beat in own):
                since = max((beat.at for beat in own), default=self._started)
                yield Stopped(
                    words,
                    since,
                    str(own[0].detail.get("why", "")) if own else N_("never seen"),
                )

    def _sweeps(self, conn: Connection, facility_id: UUID, now: datetime) -> Iterator[Stopped]:
        last = jobs.last_ok(conn, sweep.JOB, facility_id) or self._started
        if now - max(last, self._started) > _SWEEPS_MISSED * SWEEP:
            yield Stopped(
                N_("judging readings"),
                last,
                jobs.last_failure(conn, sweep.JOB, facility_id),
            )

    def _disk(self, now: datetime) -> Iterator[Stopped]:
        if self._data_folder is not None and self._data_folder.exists():
            free = shutil.disk_usage(self._data_folder).free
            if free < DISK_FREE_BYTES:
                yield Stopped(N_("room on the disk"), now, f"{free / 1e6:.0f} MB left")
