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
from wickwatch.texts import _, ngettext
from wickwatch.web.views.times import past

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
            Banner(
                True,
                _("Nobody is watching: the watch %(state)s. No new alarm will be raised.", state=_last(beats, "watch")),
            )
        )
    else:
        late = [facility for facility in facilities if _late(sweeps.get(facility.id), now)]
        if late:
            told.append(
                Banner(
                    True,
                    _("The watch is late in %(names)s: %(why)s.", names=_named(late), why=_swept(late, sweeps, now)),
                )
            )
    if not any(beat.alive for beat in beats if beat.part == "ingest"):
        told.append(
            Banner(
                True,
                _("No readings are taken in: ingest %(state)s. What you see is old.", state=_last(beats, "ingest")),
            )
        )
    if not any(beat.alive for beat in beats if beat.part == "notify"):
        told.append(
            Banner(False, _("Nobody is called: notify %(state)s. Look here yourself.", state=_last(beats, "notify")))
        )
    return tuple(told)


def _last(beats: Sequence[Beat], part: str) -> str:
    ages = [beat for beat in beats if beat.part == part]
    if not ages:
        return _("has not run in the last day")
    newest = min(ages, key=lambda beat: beat.age_s)
    if newest.age_s > 45:
        return _("was last heard %(ago)s", ago=past(timedelta(seconds=newest.age_s)))
    return _("says that it is not well")


def _late(swept: datetime | None, now: datetime) -> bool:
    return swept is None or now - swept > SWEEP_LATE


def _named(facilities: Sequence[Visible]) -> str:
    return (
        facilities[0].name
        if len(facilities) == 1
        else ngettext("%(num)s facility", "%(num)s facilities", len(facilities))
    )


def _swept(late: Sequence[Visible], sweeps: Mapping[UUID, datetime | None], now: datetime) -> str:
    done = [swept for facility in late if (swept := sweeps.get(facility.id)) is not None]
    if not done:
        return _("no sweep has ended yet")
    return _("its last sweep ended %(ago)s", ago=past(now - min(done)))
