"""What a report that is made again says of the one before."""

from __future__ import annotations

from typing import Any

from wickwatch.report.key_figures import changes

NAMES = {"room-01": "Room 1", "room-02": "Room 2"}


def figures(rooms: dict[str, dict[str, Any]] | None = None, **whole: float | None) -> dict[str, Any]:
    """Key figures of a facility and its rooms."""
    return {"facility": whole, "rooms": rooms or {}, "reached": None}


def test_the_same_figures_have_no_changes() -> None:
    same = figures({"room-01": {"water_l": 20.0}}, in_band_percent=91.04)
    assert changes(same, same, NAMES) == []


def test_a_difference_that_does_not_show_is_none() -> None:
    assert changes(figures(in_band_percent=91.04), figures(in_band_percent=91.01), NAMES) == []


def test_what_differs_is_told_from_the_whole_to_the_rooms() -> None:
    before = figures({"room-01": {"water_l": 20.0}}, in_band_percent=91.04, alarms=3)
    now = figures({"room-01": {"water_l": 26.6}}, in_band_percent=90.96, alarms=4)
    assert changes(before, now, NAMES) == [
        "alarms 3 → 4",
        "Room 1: water used 20 l → 27 l",
    ]


def test_what_was_not_known_is_told_as_such() -> None:
    assert changes(figures(water_l=None), figures(water_l=12.0), NAMES) == ["water used not known → 12 l"]


def test_rooms_that_came_and_went_are_named() -> None:
    before, now = figures({"room-01": {}}), figures({"room-02": {}})
    assert changes(before, now, NAMES) == ["Room 2 is new in it", "Room 1 is no longer in it"]


def test_many_changes_are_cut_and_counted() -> None:
    before = figures({f"room-{n}": {"water_l": 1.0} for n in range(20)})
    now = figures({f"room-{n}": {"water_l": 2.0} for n in range(20)})
    found = changes(before, now, NAMES, most=3)
    assert len(found) == 4
    assert found[-1] == "and 17 more"
