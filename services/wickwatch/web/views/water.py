"""Reservoirs in a few words: what there is, until when, and which run out first.

Not here: how a run-out is told (`web.run_out`).
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from uuid import UUID
from zoneinfo import ZoneInfo

from wickwatch.texts import _, volume
from wickwatch.web.views.state import ReservoirState, RoomState
from wickwatch.web.views.times import Moment, moment, span

#: Reservoirs that run out within this are listed on their own: today's round, and the night after it.
SOON = timedelta(hours=24)

#: A run-out farther away than this is not told as a time of day, only in days.
_EXACT = timedelta(hours=48)

#: A run-out farther away than this says nothing useful.
_FAR = timedelta(days=30)


@dataclass(frozen=True)
class Water:
    """One reservoir in a few words; `mood` is `empty`, `soon`, `silent` or nothing."""

    name: str
    share_percent: int | None
    amount: str
    run_out: str
    mood: str


@dataclass(frozen=True)
class Soon:
    """A reservoir that runs out within a day."""

    room_id: UUID
    room: str
    name: str
    at: Moment
    left: str
    out_at: datetime


def water(reservoir: ReservoirState, zone: ZoneInfo, now: datetime) -> Water:
    """One reservoir in a few words."""
    name = reservoir.row.name
    if reservoir.usable_l is None or reservoir.share is None:
        return Water(
            name,
            None,
            _("no level yet") if reservoir.row.level_mm is None else _("measures can't be right"),
            "",
            "silent",
        )
    percent = round(100.0 * reservoir.share)
    amount = volume(reservoir.usable_l)
    if reservoir.silent:
        return Water(
            name, percent, amount, _("not heard since %(at)s", at=moment(_read(reservoir), zone, now).text), "silent"
        )
    if reservoir.usable_l <= 0.0:
        return Water(name, 0, _("empty"), "", "empty")
    out = reservoir.run_out
    if out is None or out.at is None or out.at - now > _FAR:
        return Water(name, percent, amount, "", "")
    left = out.at - now
    exact = left <= _EXACT
    text = _("until %(at)s", at=moment(out.at, zone, now).text) if exact else _("for %(span)s", span=span(left))
    return Water(name, percent, amount, text, "soon" if left <= SOON else "")


def soon(state: RoomState, now: datetime) -> list[Soon]:
    """Reservoirs of a room that run out within a day and are not empty yet."""
    found = []
    for reservoir in state.reservoirs:
        out = reservoir.run_out.at if reservoir.run_out and reservoir.usable_l and not reservoir.silent else None
        if out is not None and out - now <= SOON:
            at = moment(out, state.zone, now)
            found.append(
                Soon(state.row.id, state.row.name, reservoir.row.name, at, span(max(out - now, timedelta())), out)
            )
    return found


def _read(reservoir: ReservoirState) -> datetime:
    assert reservoir.row.read_at is not None  # a reservoir with a volume has been read
    return reservoir.row.read_at
