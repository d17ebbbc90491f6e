"""Settled? At the set point within tolerance and flat for its time: ready or not, and why."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest

from tests.unit.detect.builders import NOW, Course, plus, steady, steps
from wickwatch.detect import Settled, settled
from wickwatch.fleet import Rules

RULES = Rules()  # set point 100 +- 10, two hours


def judged(course: Course, hours: float = 48.0, later_h: float = 0.0, rules: Rules = RULES) -> Settled:
    """As of `later_h` hours after NOW, from buckets of 5 minutes with a little noise."""
    at = np.arange(-hours + later_h, later_h, 1 / 12)
    (answer,) = settled([plus(course, steady(0, 0.3, 1))(at)], NOW + timedelta(hours=later_h), [rules])
    return answer


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
    course = steps((-1.05, 60), (-1.0, 100))
    assert not judged(course).ready
    # As of then the line through two hours, of which one was wet, is steep; most of an hour later it is not.
    later = judged(course, later_h=0.9)
    assert later.reasons == ("at its set point for 1.8 of 2 hours",)
    assert later.ready_at is not None
    assert abs(later.ready_at - (NOW + timedelta(hours=1))) <= timedelta(minutes=10)


def test_a_container_that_must_stay_longer_by_its_own_rule_is_waited_for() -> None:
    course = steps((-5.05, 60), (-5.0, 100))
    assert judged(course).ready
    assert not judged(course, rules=replace(RULES, settled_hours=6.0)).ready


def test_a_probe_just_attached_has_too_few_readings_and_one_never_heard_too() -> None:
    assert judged(steady(100), hours=0.3).reasons == ("too few readings in the last 2 hours",)
    (never,) = settled([np.full(100, np.nan)], NOW, [RULES])
    assert (never.ready, never.tension_mbar) == (False, None)
    assert never.reasons == ("too few readings in the last 2 hours",)


def test_many_containers_are_judged_together_as_each_is_alone() -> None:
    at = np.arange(-48.0, 0.0, 1 / 12)
    courses = [steady(104), steps((-3, 91), (0, 108)), steps((-5.05, 60), (-5.0, 100))]
    series = [plus(course, steady(0, 0.3, seed))(at)[seed * 50 :] for seed, course in enumerate(courses)]
    series.append(np.full(3, 100.0))
    rules = [RULES, replace(RULES, set_point_mbar=90.0), replace(RULES, settled_hours=6.0), RULES]
    alone = tuple(settled([fine], NOW, [own])[0] for fine, own in zip(series, rules, strict=True))
    assert settled(series, NOW, rules) == alone
    assert settled([], NOW, []) == ()
