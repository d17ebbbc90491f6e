"""Containers that were lately in drought: what they ask for now, they do not ask for long.

A container back from drought takes all that its medium lacks within hours, beside what its plant drinks. That looks
like a leak, or like a day of great thirst, but it is bounded: a pot takes no more than it can hold.
Not here: what follows for a leak (`reservoir_leak`) or a forecast (`reservoir_low`).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from wickwatch.detect import constants as c
from wickwatch.detect.sight import Sight
from wickwatch.detect.thirst import near_set_point
from wickwatch.detect.window import cut


def catches_up(sight: Sight, which: NDArray[np.int64]) -> NDArray[np.bool_]:
    """Reservoirs (N,) of which a good share of containers, one at least, were lately in drought."""
    place, reservoirs = sight.place, len(sight.place.reservoirs)
    here, lacks = _lacking(sight, which)
    were, of = (np.bincount(place.reservoir_of[some], minlength=reservoirs) for some in (here[lacks], here))
    return np.asarray((were > 0) & (were >= c.CATCH_UP_SHARE * of))[which]


def takes_l(sight: Sight, which: NDArray[np.int64]) -> NDArray[np.float64]:
    """Litres that the containers of reservoirs (N,) that were lately in drought take at most to be wet again.

    0 where none was, infinite where the volume of one that was is not known.
    """
    place = sight.place
    here, lacks = _lacking(sight, which)
    those = here[lacks]
    each = c.CATCH_UP_TAKES * np.nan_to_num(place.volume_l[those], nan=np.inf) * place.stands_for[those]
    return np.asarray(np.bincount(place.reservoir_of[those], weights=each, minlength=len(place.reservoirs))[which])


def _lacking(sight: Sight, which: NDArray[np.int64]) -> tuple[NDArray[np.int64], NDArray[np.bool_]]:
    """Containers (M,) of the given reservoirs, and which of them stood above their dry limits within the last hours.

    One that has since been near its set point for hours on end has what it lacked. One that is wetter than that has
    been watered by hand, or its probe has lost its water.
    """
    place = sight.place
    here = np.flatnonzero(np.isin(place.reservoir_of, which))
    hourly = cut(sight.frame.coarse, sight.tension.row[here], place.tension.since[here], c.CATCH_UP_HOURS)
    limit, near = place.container_rules.of("dry_limit_mbar")[here], near_set_point(place)[here]
    with np.errstate(invalid="ignore"):
        dry = np.fmax.reduce(hourly, axis=1) > limit
        is_near = (hourly >= near[:, np.newaxis]) & (hourly <= limit[:, np.newaxis])
    return here, np.asarray(dry & ~is_near[:, -c.CATCH_UP_ENDS_H :].all(axis=1))
