"""Settled? At the set point within tolerance and flat for its time: ready or not, and why."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from tests.unit.detect.builders import NOW, Course, Told, facility, plus, room, steady, steps
from wickwatch.detect import Settled, settled

PLACE = facility(room())  # set point 100 +- 10, two hours
POT = PLACE.rooms[0].containers[0]


def judged(course: Course, **more: object) -> Settled:
    return settled(Told(PLACE).tension(0, plus(course, steady(0, 0.3, 1)), **more).frame(), PLACE, POT)


def test_at_its_set_point_and_flat_for_two_hours_is_ready() -> None:
    answer = judged(steady(104))
    assert (answer.ready, answer.reasons) == (True, ())
    assert answer.off_mbar == pytest.approx(4.0, abs=0.3)


@pytest.mark.parametrize(
    ("course", "why"),
    [
        (steady(112), "drier than its set point of 100 mbar"),
        (steady(88), "wetter than its set point of 100 mbar"),
        (steps((-3, 91), (0, 108)), "still drying by 5."),
        (steps((-3, 108), (0, 91)), "still getting wetter by 5."),
    ],
)
def test_it_says_why_it_is_not_ready(course: Course, why: str) -> None:
    answer = judged(course)
    assert not answer.ready
    assert why in "; ".join(answer.reasons)


def test_it_says_when_it_will_be_ready_if_it_stays_as_it_is() -> None:
    told = Told(PLACE, later_h=0.9).tension(0, steps((-1.05, 60), (-1.0, 100)))
    assert not settled(told.frame(), PLACE, POT).ready
    # As of then the line through two hours, of which one was wet, is steep; most of an hour later it is not.
    later = settled(told.frame(NOW + timedelta(minutes=54)), PLACE, POT)
    assert later.reasons == ("at its set point for 1.8 of 2 hours",)
    assert later.ready_at is not None
    assert abs(later.ready_at - (NOW + timedelta(hours=1))) <= timedelta(minutes=10)


def test_without_a_probe_or_its_readings_it_says_so() -> None:
    assert judged(steady(100), until_h=-1.0).reasons == ("its probe sends nothing",)
    bare = replace(POT, tension=None)
    made = facility(replace(PLACE.rooms[0], containers=(bare,)))
    assert settled(Told(made).level(0, steady(1)).frame(), made, bare).reasons == ("no probe is attached",)


def test_a_probe_just_attached_has_too_few_readings() -> None:
    assert POT.tension is not None
    fresh = replace(POT, tension=replace(POT.tension, since=NOW - timedelta(minutes=20)))
    made = facility(replace(PLACE.rooms[0], containers=(fresh,)))
    answer = settled(Told(made).tension(0, steady(100)).frame(), made, fresh)
    assert answer.reasons == ("too few readings in the last 2 hours",)
