"""Where on its line containers dry: beyond an air lock all, before it none."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest

from tests.unit.detect.builders import Told, facility, names, plus, room
from tests.unit.detect.test_supply import CUT, USUAL, cut_off, works
from wickwatch.detect.layout import layout
from wickwatch.detect.supply_beyond import beyond

DRY, WATERED, WET, NEITHER = (5, 9, 30), (0, 2, 30), (0, 0, 0), (0, 9, 30)


def asked(*containers: tuple[int, int, int]) -> int | None:
    """The first dry one of containers along a line, each with the hours since it asks, was watered and was wet, if
    their order alone tells.
    """
    found = beyond(np.arange(len(containers)), *np.array(containers).T)
    return found.first if found is not None and found.alone else None


@pytest.mark.parametrize(
    ("line", "first"),
    [
        ([WATERED] * 7 + [DRY] * 3, 7),
        ([DRY] * 3 + [WATERED] * 7, None),  # nobody before it
        ([WATERED] * 6 + [DRY] * 3 + [WATERED], None),
        ([WATERED] * 6 + [DRY] * 3, None),  # 1 in 84 by chance
        ([WATERED] * 12 + [DRY] * 2, None),  # too few
        ([WATERED] * 7 + [DRY, WET, NEITHER, DRY, DRY], 7),  # who is not due tells nothing
        ([WATERED, NEITHER] * 2 + [DRY] * 4, None),
        ([NEITHER] * 6 + [DRY] * 3, None),
    ],
)
def test_where_all_that_dry_come_last_something_lies_before_them(
    line: Sequence[tuple[int, int, int]], first: int | None
) -> None:
    assert asked(*line) == first


@pytest.mark.parametrize(
    ("line", "told"),
    [
        ([WATERED] * 4 + [DRY] * 2, True),
        ([WATERED] + [DRY] * 2, True),
        ([WATERED] * 4 + [DRY, (9, 9, 30)], True),
        ([WATERED] * 4 + [DRY, (10, 10, 30)], False),  # hours apart
        ([WATERED] * 4 + [DRY], False),
        ([WATERED] * 3 + [DRY, WATERED, DRY], False),
        ([WATERED] * 7 + [WET] + [DRY] * 2, True),
        ([WATERED] * 4 + [WET] * 2 + [DRY] * 2, False),  # which take less as well
        ([NEITHER] * 4 + [DRY] * 2, False),  # nobody before them is known to have had water
    ],
)
def test_two_that_dry_at_once_tell_with_their_reservoir_if_they_come_last(
    line: Sequence[tuple[int, int, int]], told: bool
) -> None:
    found = beyond(np.arange(len(line)), *np.array(line).T)
    assert (found is not None and found.together) is told


def test_containers_lie_along_their_line_as_people_number_them() -> None:
    made = room(pots=3)
    pots = [replace(pot, slug=slug) for pot, slug in zip(made.containers, ("pot-10", "pot-2", "pot-1"), strict=True)]
    assert layout(facility(replace(made, containers=tuple(pots)))).along_line.tolist() == [2, 1, 0]


@pytest.mark.parametrize(("cut", "found"), [((10, 11, 12), True), ((2, 6, 12), False), ((0, 1, 2), False)])
def test_three_of_many_that_dry_are_a_line_if_they_are_the_last_of_it(cut: Sequence[int], found: bool) -> None:
    place = facility(room(pots=13))
    made = Told(place, interval_s=300.0, days=6.0)
    for pot in range(13):
        made.tension(pot, cut_off(-5.0, pot) if pot in cut else works(pot))
    missing = 6.0 * len(cut) / 13
    made.level(0, plus(USUAL, lambda hours: missing * np.maximum(hours + 5.0, 0.0)))
    lines = made.found(CUT)
    assert names(lines) == (["Line 0"] if found else [])
    assert [each.evidence["dry_from"] for each in lines] == ([place.rooms[0].containers[cut[0]].name] if found else [])


@pytest.mark.parametrize(("missing", "found"), [(1.0, True), (0.0, False)])
def test_two_that_dry_at_once_are_a_line_if_their_part_is_missing(missing: float, found: bool) -> None:
    place = facility(room(pots=7))
    made = Told(place, interval_s=300.0, days=6.0)
    for pot in range(7):
        made.tension(pot, cut_off(-5.0, pot) if pot >= 5 else works(pot))
    made.level(0, plus(USUAL, lambda hours: 6.0 * missing * 2 / 7 * np.maximum(hours + 5.0, 0.0)))
    lines = made.found(CUT)
    assert [each.evidence["dry_from"] for each in lines] == ([place.rooms[0].containers[5].name] if found else [])


def test_the_last_ones_dry_while_the_reservoir_gives_all_they_take_and_are_no_line() -> None:
    made = Told(facility(room(pots=13)), interval_s=300.0, days=6.0)
    for pot in range(13):
        made.tension(pot, cut_off(-5.0, pot) if pot >= 10 else works(pot))
    made.level(0, plus(USUAL, lambda hours: -2.0 * np.maximum(hours + 5.0, 0.0)))
    assert made.found(CUT) == []
