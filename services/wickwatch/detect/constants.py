"""Every number of the detectors that is not a rule of watching: meaning, unit, and where it is from.

What a grower may want to set per facility, room or pot is a rule (`fleet.rules`). What stands here describes
instruments, water or statistics, and is the same everywhere. "Chosen here" means judged on simulated rooms by the
evaluation set. Not here: how a number is used.
"""

from __future__ import annotations

from collections.abc import Mapping

# Work and settling ----------------------------------------------------------------------------------------------------

#: How long work lasts, as a multiple of the container's `settled_hours` (two by default): a re-set emitter needs some
#: drip pulses to find its point; water given by hand lasts about a day; a fresh ceramic cup needs up to a day to reach
#: the medium's tension (24 h: Grattan and Oster, University of California Drought Tip 92-38). Otherwise chosen here.
SETTLING_FACTOR: Mapping[str, float] = {
    "re-set-emitter": 6.0,
    "replaced-emitter": 6.0,
    "watered-by-hand": 12.0,
    "replaced-probe": 12.0,
    "refilled-probe": 12.0,
    "maintenance": 6.0,
    "purged": 3.0,
    "opened-valve": 3.0,
    "refilled": 3.0,
}

#: Work after which earlier readings say nothing about what is usual.
CHANGES_HISTORY = frozenset({"re-set-emitter", "replaced-emitter", "replaced-probe", "refilled-probe"})

# Level sensors --------------------------------------------------------------------------------------------------------

#: Minutes of readings from which the level now is estimated. Chosen here: long enough to average a millimetre of noise
#: away, short enough for a draw that follows the lights.
LEVEL_MINUTES = 120

#: A level this far [mm] off the line through the readings before it is doubted until a second reading or time confirms
#: it. Chosen here: no gravity line draws this within one reading, a wave or a lost echo does.
LEVEL_JUMP_MM = 40.0

#: Seconds after which a doubted reading that nothing contradicts is believed. Chosen here: an empty reservoir must be
#: called within five minutes, also where a reading comes every ten.
LEVEL_DOUBT_S = 225.0

#: Rise [mm] between neighbouring buckets that is a refill and not noise. Chosen here.
LEVEL_RISE_MM = 12.0

#: A reservoir stays empty until its level is this far [mm] above the level that counts as empty. Chosen here: beyond
#: the noise and the waves of usual level sensors (from memory: 1-3 mm).
EMPTY_RELEASE_MM = 6.0

#: Standard errors and most millimetres by which "empty" is called early rather than late. Chosen here.
EMPTY_EARLY_SE = 1.0
EMPTY_EARLY_MM = 3.0

# What is usual --------------------------------------------------------------------------------------------------------

#: Fewest past days at the same hour from which "usual" is taken. Chosen here: with two, one bad day is half of it.
USUAL_DAYS = 3
