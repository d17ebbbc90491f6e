"""Whether the watching itself is alive, as banners above every page: silence is not health.

Not here: the alarm that calls somebody for it (`monitoring-stopped`), which needs the watch to be alive elsewhere.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from uuid import UUID

from wickwatch.store.jobs import Beat
from wickwatch.store.people import Visible
from wickwatch.web.views.times import span

#: A sweep older than this is late. Sweeps follow one another within a minute, even on a full machine.
SWEEP_LATE = timedelta(minutes=2)


@dataclass(frozen=True)
class Banner:
    """One thing that makes the page untrustworthy; `grave` where nothing on it can be trusted to be current."""

    grave: bool
    text: str


def banners(
    beats: Sequence[Beat], sweeps: Mapping[UUID, datetime | None], facilities: Sequence[Visible], now: datetime
) -> tuple[Banner, ...]:
    """What is not alive, the gravest first."""
    told = []
    if not facilities:
        return ()
    if not any(beat.alive for beat in beats if beat.part == "watch"):
        told.append(
            Banner(True, f"Nobody is watching: the watch {_last(beats, 'watch')}. No new alarm will be raised.")
        )
    else:
        late = [facility for facility in facilities if _late(sweeps.get(facility.id), now)]
        if late:
            told.append(Banner(True, f"The watch is late in {_named(late)}: {_swept(late, sweeps, now)}."))
    if not any(beat.alive for beat in beats if beat.part == "ingest"):
        told.append(Banner(True, f"No readings are taken in: ingest {_last(beats, 'ingest')}. What you see is old."))
    if not any(beat.alive for beat in beats if beat.part == "notify"):
        told.append(Banner(False, f"Nobody is called: notify {_last(beats, 'notify')}. Look here yourself."))
    return tuple(told)


def _last(beats: Sequence[Beat], part: str) -> str:
    ages = [beat for beat in beats if beat.part == part]
    if not ages:
        return "has not run in the last day"
    newest = min(ages, key=lambda beat: beat.age_s)
    if newest.age_s > 45:
        return f"was last heard {span(timedelta(seconds=newest.age_s))} ago"
    return "says that it is not well"


def _late(swept: datetime | None, now: datetime) -> bool:
    return swept is None or now - swept > SWEEP_LATE


def _named(facilities: Sequence[Visible]) -> str:
    return facilities[0].name if len(facilities) == 1 else f"{len(facilities)} facilities"


def _swept(late: Sequence[Visible], sweeps: Mapping[UUID, datetime | None], now: datetime) -> str:
    done = [swept for facility in late if (swept := sweeps.get(facility.id)) is not None]
    if not done:
        return "no sweep has ended yet"
    return f"its last sweep ended {span(now - min(done))} ago"
