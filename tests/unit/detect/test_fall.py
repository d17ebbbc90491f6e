"""Falls of tension: which of them came at the same time."""

from __future__ import annotations

import numpy as np

from wickwatch.detect import constants as c
from wickwatch.detect.fall import at_the_same_time


def test_those_of_the_same_room_that_fell_within_the_hour_are_counted() -> None:
    rng = np.random.default_rng(4)
    room, steepest = rng.integers(0, 5, 300), rng.integers(0, 60, 300)
    fell = rng.random(300) < 0.6
    near = np.abs(steepest[:, np.newaxis] - steepest) <= c.FELL_TOGETHER_STEPS
    expected = (near & (room[:, np.newaxis] == room) & fell).sum(axis=1)  # pair by pair (derived)
    assert at_the_same_time(room, steepest, fell).tolist() == expected.tolist()


def test_a_whole_facility_that_falls_at_once_is_counted_in_little_memory() -> None:
    """200,000 containers in rooms of 20: pairs of them would be 40 milliards."""
    room = np.arange(200_000) // 20
    found = at_the_same_time(room, np.full(200_000, 500), np.ones(200_000, dtype=np.bool_))
    assert (found == 20).all()
