"""What a reservoir gives, where containers of a line of it are dry: less than it usually does, or theirs, too.

Not here: how much it usually gives (`excess`, `draws`), and which containers are dry (`supply_interrupted`).
"""

from __future__ import annotations

import numpy as np

from wickwatch.detect import constants as c
from wickwatch.detect.excess import excess
from wickwatch.detect.sight import Sight


def gives_less(sight: Sight, reservoir: int, hours: int, share: float, sigmas: float) -> bool:
    """Whether a reservoir has given, for hours at a time since some hours ago, at most a share of what is usual.

    And that beyond chance, by so many standard errors.
    """
    backs = [back for back in c.SUPPLY_LOOK_BACK_H if back <= hours]
    span = np.tile(np.array(c.SUPPLY_SPANS_H), len(backs))
    until = np.repeat(np.array(backs), len(c.SUPPLY_SPANS_H))
    seen = excess(sight, np.full(len(span), reservoir), span, until, c.UPTAKE_LEAST)
    with np.errstate(invalid="ignore"):
        long = seen.hours >= c.SUPPLY_SPAN_SHARE * span
        less = (seen.drawn_l <= share * seen.usual_l) & (seen.usual_l - seen.drawn_l >= sigmas * seen.sigma_l)
    return bool((long & less).any())


def supplied(sight: Sight, reservoir: int, hours: int, share: float, sigmas: float) -> bool:
    """Whether the reservoir gives what it usually does, by so many standard errors, so that this share of its
    containers can't be cut off: the others go on drawing their part.
    """
    seen = excess(sight, np.array([reservoir]), float(np.clip(hours, 2, 12)), 0.0, c.UPTAKE_LEAST)
    usual, drawn = float(seen.usual_l[0]), float(seen.drawn_l[0])
    if not np.isfinite(drawn + usual):
        return False
    return drawn > (1.0 - share + c.SUPPLY_DRAWS * share) * usual + sigmas * float(seen.sigma_l[0])
