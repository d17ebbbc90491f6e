"""uneven-room: emitters of one room are no longer set alike.

What an emitter is set to shows in the tension from which its waterings begin. Compared are those of the last days with
the container's own before; several that have moved apart make a room uneven, one alone is a drift of its own. Says
which to re-set, the farthest off first. Containers that their emitter does not water now (still wet, or cut off) do not
speak here, nor those whose probe creeps.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from wickwatch.detect import constants as c
from wickwatch.detect.clock import moment
from wickwatch.detect.drying_drift import creeping
from wickwatch.detect.evidence import rounded
from wickwatch.detect.finding import Finding, Key
from wickwatch.detect.habits import habits
from wickwatch.detect.layout import NONE
from wickwatch.detect.sight import Sight
from wickwatch.detect.twins import parted
from wickwatch.fleet import Subject


def find(sight: Sight) -> list[Finding]:
    """Findings of rooms whose containers have moved apart."""
    known = np.flatnonzero(sight.tension.known & ~(sight.settling.container_until > sight.as_of))
    seen = habits(sight, known)
    shift = seen.watered_at - seen.watered_before
    told = np.isfinite(shift)
    which, shift = known[told], shift[told]
    room = sight.place.room_of[which]
    first = np.flatnonzero(np.diff(room, prepend=-1))  # containers of one room stand side by side
    if not len(first):
        return []
    # Where the widest pair is not far apart none is far from the middle: nearly all rooms.
    wide = np.maximum.reduceat(shift, first) - np.minimum.reduceat(shift, first) >= c.UNEVEN_MBAR
    found = [_room(sight, int(number), which[room == number]) for number in room[first[wide]]]
    return [each for each in found if each is not None]


def _room(sight: Sight, number: int, which: NDArray[np.int64]) -> Finding | None:
    """One room by those of its containers that tell; asked again without probes that creep, if it is uneven by all."""
    found = _judge(sight, number, which)
    if found is None:
        return None
    return _judge(sight, number, which[~np.isin(which, [*creeping(sight), *parted(sight)])])


def moved(sight: Sight, which: NDArray[np.int64]) -> int:
    """How many of some containers are watered from a tension that has moved."""
    seen = habits(sight, which[sight.tension.known[which]])
    with np.errstate(invalid="ignore"):
        return int((np.abs(seen.watered_at - seen.watered_before) >= c.UNEVEN_MBAR).sum())


def _judge(sight: Sight, room: int, which: NDArray[np.int64]) -> Finding | None:
    """One room by its containers that are watered (N,): from which tension they are of late, and were before."""
    if len(which) < c.UNEVEN_LEAST:
        return None
    seen = habits(sight, which)
    now, before = seen.watered_at, seen.watered_before
    shift = now - before
    off = shift - np.median(shift)
    far = np.abs(off) >= c.UNEVEN_MBAR
    spread, usual = _spread(now), _spread(before)
    apart = spread >= c.UNEVEN_FACTOR * max(usual, c.UNEVEN_USUAL_MBAR)
    if not apart or far.sum() < max(c.UNEVEN_MOVED, c.UNEVEN_SHARE * len(which)):
        return None
    place = sight.place
    order = np.argsort(-np.abs(off))
    ranked = [f"{place.containers[int(which[n])].name} {off[n]:+.0f}" for n in order[: c.UNEVEN_NAMES] if far[n]]
    lines = np.unique(place.line_of[place.room_of == room])
    causes: tuple[Key, ...] = tuple(("supply-interrupted", place.lines[int(n)].id) for n in lines if n != NONE)
    thing = place.rooms[room]
    return Finding(
        kind="uneven-room",
        subject=Subject("room", thing.id, thing.name),
        room_id=thing.id,
        since=moment(sight.as_of - np.timedelta64(c.UNEVEN_DAYS, "D")),
        evidence={
            "spread_mbar": rounded(spread),
            "usual_mbar": rounded(usual),
            "moved": int(far.sum()),
            "of_containers": len(which),
            "emitters": ", ".join(ranked),
        },
        explained_by=causes,
    )


def _spread(values: NDArray[np.float64]) -> float:
    """Width between the tenth and the ninetieth percentile."""
    low, high = np.percentile(values, [10, 90])
    return float(high - low)
