"""supply-interrupted told by waterings that do not come, hours before containers have dried."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import timedelta

import numpy as np
import pytest

from tests.unit.detect.builders import NOW, Course, Told, drawn, facility, names, plus, room, sawtooth, steady

CUT = "supply-interrupted"
POTS = 8
PLACE = facility(room(pots=POTS))
USUAL = plus(drawn(300, by_day=6, by_night=1), steady(0, 0.5, 5))
CUT_AT_H = -3.0


def works(pot: int, period_h: float = 3.5) -> Course:
    """Swings between 88 and 105, each pot at its own time."""
    phase = 0.43 * pot
    return plus(lambda hours: sawtooth(88, 105, dries_h=period_h - 0.5)(hours + phase), steady(0, 0.3, pot))


def waits(pot: int, period_h: float = 3.5) -> Course:
    """Works until its line is cut; then it dries on to little above or below its usual peak and stays there."""
    top = 107.0 if pot % 2 else 101.0
    course = works(pot, period_h)
    start = float(course(np.array([CUT_AT_H]))[0])
    return lambda hours: np.where(
        hours < CUT_AT_H, course(hours), np.minimum(start + 6.0 * np.maximum(hours - CUT_AT_H, 0.0), top)
    )


def stopped(hours: np.ndarray) -> np.ndarray:
    """The usual draw until the line is cut, none after."""
    return USUAL(np.minimum(hours, CUT_AT_H))


def told(level: Course = stopped, works_on: Sequence[int] = (), period_h: float = 3.5) -> Told:
    """Some pots work on, the others wait."""
    made = Told(PLACE, interval_s=300.0, days=9.0, later_h=8.0)
    for pot in range(POTS):
        made.tension(pot, works(pot, period_h) if pot in works_on else waits(pot, period_h))
    return made.level(0, level)


def test_a_line_is_found_while_its_pots_stand_little_above_their_usual_peak() -> None:
    (found,) = told().found(CUT)
    assert found.subject.name == "Line 0"
    assert found.evidence["above_usual_peak_mbar"] < 5.0
    assert found.evidence["containers"] == POTS // 2
    assert timedelta(hours=1) <= NOW - found.since <= timedelta(hours=4)


def test_one_pot_in_eight_may_be_watered_by_what_an_air_lock_lets_through() -> None:
    assert names(told(works_on=[0]).found(CUT)) == ["Line 0"]


@pytest.mark.parametrize(
    "made",
    [
        pytest.param(told(level=USUAL), id="the reservoir gives as usual"),
        pytest.param(told(works_on=[0, 2, 6]), id="three of eight pots are watered"),
        pytest.param(told(level=steady(60)), id="the reservoir has run dry"),
    ],
)
def test_it_takes_a_draw_that_has_stopped_and_pots_that_are_not_watered(made: Told) -> None:
    assert made.found(CUT) == []


def test_pots_that_are_watered_once_in_two_days_are_not_missed_for_some_hours() -> None:
    assert told(period_h=50.0).found(CUT) == []


def test_it_goes_on_in_the_evening_when_no_water_is_missed_any_more() -> None:
    """Lights go off at 18:00 in Oslo, five hours from now; the draw of the night is a sixth of the day's."""
    made = told()
    assert all(made.found(CUT, as_of=NOW + timedelta(hours=h)) for h in range(9))


def test_pots_that_come_up_from_a_can_were_not_due_before() -> None:
    """Somebody filled all seven hours ago; since then none drew, and half of them have just come to where they ask."""
    made = Told(PLACE, interval_s=300.0, days=9.0)
    for pot in range(POTS):
        up = lambda hours, pot=pot: np.minimum(60.0 + (10.0 if pot % 2 else 6.5) * (hours + 7.0), 108.0)  # noqa: E731
        made.tension(pot, lambda hours, pot=pot, up=up: np.where(hours < -7.0, works(pot)(hours), up(hours)))
    assert made.level(0, lambda hours: USUAL(np.minimum(hours, -7.0))).found(CUT) == []
