"""Which of many tests found more than chance, so that a page of marks means something.

Not here: the tests themselves (`agronomy.trend`).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from wickwatch.agronomy.arrays import Bools, Floats, floats

#: Of what is marked, at most this share is marked by chance. Usual level.
FALSE_SHARE = 0.05


def adjusted(p: ArrayLike) -> Floats:
    """The p values of a family of tests, each raised to the least false discovery rate at which it is found.

    Benjamini and Hochberg 1995, J. R. Stat. Soc. B 57:289. NaN, a test that could not be made, stays and counts for
    none.
    """
    from scipy.stats import false_discovery_control  # noqa: PLC0415 -- takes a second, so it is loaded where one is asked

    values = floats(p)
    made = np.isfinite(values)
    found = np.full(values.shape, np.nan)
    if made.any():
        found[made] = false_discovery_control(values[made], method="bh")
    return found


def discovered(p: ArrayLike) -> Bools:
    """Which tests of a family found something, with at most `FALSE_SHARE` of them by chance."""
    with np.errstate(invalid="ignore"):
        return np.asarray(adjusted(p) <= FALSE_SHARE)
