"""The newest reading behind each subject: is it there, how old is it, has the channel fallen silent.

Every kind asks this first, because what a silent probe said last is not what is so now. Not here: what follows from
silence (`probe_silent`, and `unknown` of a judgement).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from wickwatch.detect.clock import hours_since
from wickwatch.detect.frame import Frame
from wickwatch.detect.layout import NONE, Attached, RuleTable


@dataclass(frozen=True)
class Signals:
    """What a frame holds of N attached channels; all arrays of shape (N,).

    `row` is the channel's row in the frame (-1 for none). `value` and `at` are its newest reading within the present
    assignment (NaN and NaT for none). `quiet_from` is when its silence began: the newest reading, or the assignment
    if that is later (NaT where the channel was never heard within the frame). `limit_s` is the silence it is allowed.
    """

    row: NDArray[np.int64]
    value: NDArray[np.float64]
    at: NDArray[np.datetime64]
    quiet_from: NDArray[np.datetime64]
    limit_s: NDArray[np.float64]
    attached: NDArray[np.bool_]
    silent: NDArray[np.bool_]

    @cached_property
    def known(self) -> NDArray[np.bool_]:
        """Where the newest reading says what is so now."""
        return np.isfinite(self.value) & ~self.silent


def silence_limit_s(attached: Attached, rules: RuleTable) -> NDArray[np.float64]:
    """Longest silence [s] that is still usual: some of the channel's own intervals, never under the rule's minutes."""
    own = np.nan_to_num(attached.interval_s) * rules.of("silent_intervals")
    return np.maximum(own, 60.0 * rules.of("silent_minutes"))


def signals(frame: Frame, attached: Attached, rules: RuleTable) -> Signals:
    """Newest readings of N attached channels and which of them are silent.

    A channel never heard is not silent: it is new, or in a box on a shelf, and nobody should be called for that.
    """
    row = frame.rows(attached.channel)
    last_at = np.append(frame.last_at, np.datetime64("NaT", "us"))[row]
    value = np.append(frame.last_value, np.nan)[row]
    before = last_at < attached.since  # False where either is NaT
    quiet_from = np.where(before, attached.since, last_at)
    limit_s = silence_limit_s(attached, rules)
    silent = 3600.0 * hours_since(quiet_from, frame.as_of) > limit_s
    return Signals(
        row=row,
        value=np.where(before, np.nan, value),
        at=np.where(before, np.datetime64("NaT", "us"), last_at),
        quiet_from=quiet_from,
        limit_s=limit_s,
        attached=attached.channel != NONE,
        silent=silent,
    )
