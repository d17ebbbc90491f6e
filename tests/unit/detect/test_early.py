"""The first sign of something larger: containers whose call may wait for their line or their room."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from tests.unit.detect.builders import Course, Told, facility, plus, room, sawtooth, steady

PLACE = facility(room(pots=8))
POTS = PLACE.rooms[0].containers
KIND = "drying-drift"


def works(pot: int) -> Course:
    """Swings between 88 and 105, each pot at its own time."""
    return plus(lambda hours: sawtooth(88, 105)(hours + 0.4 * pot), steady(0, 0.3, pot))


def dries(pot: int, since_h: float, per_h: float) -> Course:
    """Works until so many hours from NOW, then dries and goes on drying."""
    return lambda hours: np.where(hours < since_h, works(pot)(hours), 95.0 + per_h * (hours - since_h))


def early(courses: dict[int, Course]) -> tuple[set[str], set[str]]:
    """Names of the containers found drying, and of those that may wait; the others work."""
    made = Told(PLACE, interval_s=300.0, days=8.0)
    for pot in range(8):
        made.tension(pot, courses.get(pot, works(pot)))
    judged = made.judge(KIND)
    name = {(KIND, each.id): each.name for each in POTS}
    return {name[found.key] for found in judged.findings}, {name[key] for key in judged.early}  # type: ignore[index]


def test_a_pot_that_dries_alone_calls_at_once() -> None:
    assert early({0: dries(0, -8.0, 5.0)}) == ({"Pot 0"}, set())


@pytest.mark.parametrize("since_h", [-5.0, -2.5])
def test_a_pot_waits_where_another_one_of_its_line_asks_for_water_too(since_h: float) -> None:
    found, waits = early({0: dries(0, -8.0, 5.0), 1: dries(1, since_h, 5.0)})
    assert found == waits == {"Pot 0"}


def test_near_its_dry_limit_it_waits_for_nothing() -> None:
    found, waits = early({0: dries(0, -8.0, 10.2), 1: dries(1, -8.0, 5.0)})
    assert found >= {"Pot 0"}
    assert "Pot 0" not in waits


def test_a_pot_waits_where_emitters_of_its_room_have_moved() -> None:
    def moved(pot: int, by: float) -> Course:
        def course(hours: NDArray[np.float64]) -> NDArray[np.float64]:
            return works(pot)(hours) + by * np.clip((hours + 30) / 20, 0.0, 1.0)

        return course

    found, waits = early({0: dries(0, -8.0, 5.0), 1: moved(1, 20.0), 2: moved(2, -20.0)})
    assert found == waits == {"Pot 0"}
