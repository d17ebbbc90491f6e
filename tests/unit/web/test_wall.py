"""The screen on the wall as data: what fits, and in which order."""

from __future__ import annotations

from typing import Any

from tests.unit.web.rows import NOW, VISIBLE, alarm, container, room, state
from wickwatch.web.views import wall
from wickwatch.web.views.card import Card, card


def _card(name: str, *alarms: dict[str, Any]) -> Card:
    row = room(name)
    return card(state(row, container(row, 100.0), *(alarm(row, **changes) for changes in alarms)), NOW)


def _page(*cards: Card) -> wall.WallPage:
    return wall.page(cards, [], [], (), [VISIBLE], NOW)


def test_rooms_that_need_someone_come_first_and_those_that_do_not_fit_are_counted() -> None:
    asking = [_card(f"Room {number}", {"priority": "high"}) for number in range(1, 8)]
    mine, quiet = _card("Mine", {"state": "acknowledged"}), [_card(f"Quiet {number}") for number in range(60)]
    page = _page(*quiet, mine, *asking)
    assert [one.name for one in page.asking] == ["Room 1", "Room 2", "Room 3", "Room 4", "Room 5"]
    assert page.headline.startswith("7 rooms need someone")
    assert page.others[0].name == "Mine"
    assert page.count_others == 61
    assert page.where == "Birchwood House"


def test_the_fewer_need_someone_the_more_others_are_shown() -> None:
    quiet = [_card(f"Quiet {number}") for number in range(60)]
    shown = [len(_page(*quiet, *(_card(f"R{n}", {}) for n in range(asking))).others) for asking in (0, 1, 3, 9)]
    assert shown == sorted(shown, reverse=True)
    assert shown[0] == 48
    assert shown[-1] >= 6
