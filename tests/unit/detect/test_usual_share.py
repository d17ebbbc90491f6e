"""What is usual counts less where far less than usual was leaving before."""

from __future__ import annotations

import numpy as np
import pytest

from wickwatch.detect.excess import Excess, against_share, usual_share


def seen(drawn_l: float, usual_l: float, sigma_l: float, hours: float = 2.0) -> Excess:
    drawn, usual = np.array([drawn_l]), np.array([usual_l])
    return Excess(np.array([hours]), drawn, usual, (drawn - usual) / hours, np.array([sigma_l]), np.array([False]))


@pytest.mark.parametrize(
    ("drawn_l", "usual_l", "sigma_l", "share"),
    [
        (0.0, 4.6, 1.0, 0.0),  # derived: 4.6 standard errors too little
        (1.2, 6.0, 1.0, 0.2),
        (-0.1, 4.6, 1.0, 0.0),  # noise of the level gives no share below nothing
        (2.0, 4.6, 1.0, 1.0),  # derived: 2.6 standard errors are chance
        (9.0, 4.6, 1.0, 1.0),
        (0.0, 0.0, 0.5, 1.0),
    ],
)
def test_far_less_than_usual_before_a_fall_makes_usual_less_after_it(
    drawn_l: float, usual_l: float, sigma_l: float, share: float
) -> None:
    assert usual_share(seen(drawn_l, usual_l, sigma_l)) == pytest.approx([share])


def test_an_emitter_that_takes_what_the_whole_room_usually_does_shows_once_the_room_takes_nothing() -> None:
    after = against_share(seen(2.9, 3.4, 0.8, hours=1.5), np.array([0.0]))
    assert (after.l_per_h, after.usual_l) == (pytest.approx([2.9 / 1.5]), pytest.approx([0.0]))
    as_before = against_share(seen(2.9, 3.4, 0.8, hours=1.5), np.array([1.0]))
    assert as_before.l_per_h == pytest.approx([-0.5 / 1.5])
