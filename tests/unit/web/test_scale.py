"""The small scale of a room's tensions."""

from __future__ import annotations

import re

from tests.unit.web.rows import container, room, state
from wickwatch.web.views.scale import DRY, WET, scale


def _places(dots: str) -> list[int]:
    return [int(place) for place in re.findall(r"M(\d+) \d+h0", dots)]


def test_limits_stand_at_the_same_place_whatever_they_are() -> None:
    for limits in ({}, {"wet_limit_mbar": 200, "set_point_mbar": 300, "dry_limit_mbar": 600}):
        row = room(rules=limits)
        wet, dry = limits.get("wet_limit_mbar", 60), limits.get("dry_limit_mbar", 180)
        drawn = scale(state(row, container(row, wet), container(row, dry)).containers)
        assert drawn is not None
        assert _places(drawn.dots) == [WET, DRY]


def test_what_lies_outside_has_a_shape_and_what_lies_beyond_is_drawn_at_the_end() -> None:
    row = room()
    drawn = scale(
        state(row, container(row, 800.0, "Pot 1"), container(row, 0.0, "Pot 2"), container(row, 100.0)).containers
    )
    assert drawn is not None
    assert [(mark.name, mark.x_percent) for mark in drawn.dry] == [("Pot 1", 98.0)]
    assert [mark.name for mark in drawn.wet] == ["Pot 2"]
    assert len(_places(drawn.dots)) == 1
    assert drawn.label == "3 of 3 read, 0 to 800 mbar, 1 too dry, 1 too wet"


def test_a_room_without_readings_has_no_scale() -> None:
    row = room()
    assert scale(state(row, container(row, None)).containers) is None
    assert scale(()) is None
