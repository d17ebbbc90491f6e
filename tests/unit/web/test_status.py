"""The room status page as data."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from tests.unit.web.rows import NOW, VISIBLE, alarm, container, reservoir, room, state
from wickwatch.alarms import Period
from wickwatch.store.service import Listed
from wickwatch.web.views import status, water
from wickwatch.web.views.card import card, percent
from wickwatch.web.views.state import RoomState, RunOut
from wickwatch.web.views.status import Filters, StatusPage
from wickwatch.web.views.trouble import whole_facility


def _page(*states: RoomState, filters: Filters | None = None, whole: int = 0) -> StatusPage:
    cards = [card(each, NOW) for each in states]
    troubles = whole_facility([alarm(None, kind="gateway-silent") for _ in range(whole)], NOW)
    soon = [one for each in states for one in water.soon(each, NOW)]
    return status.page(cards, soon, troubles, (), [VISIBLE], filters or Filters(), NOW)


def _room(name: str, *alarms: dict[str, Any], tension: float = 100.0) -> RoomState:
    row = room(name)
    return state(row, container(row, tension), *(alarm(row, **changes) for changes in alarms))


def _names(page: StatusPage) -> list[list[str]]:
    return [[each.name for each in section.cards] for section in page.sections]


def test_rooms_come_by_need_then_priority_then_how_long_they_wait_then_name() -> None:
    page = _page(
        _room("Room 10"),
        _room("Room 2"),
        _room("Old", {"raised_at": NOW - timedelta(hours=9)}),
        _room("New", {}),
        _room("Low", {"priority": "low", "raised_at": NOW - timedelta(days=9)}),
        _room("High", {"priority": "high", "raised_at": NOW}),
        _room("Gone", {"priority": "high", "state": "returned-unacknowledged"}),
        _room("Mine", {"state": "acknowledged", "priority": "high"}),
    )
    assert _names(page) == [["High", "Old", "New", "Low", "Gone"], ["Mine"], ["Room 2", "Room 10"]]


def test_the_headline_counts_who_is_needed_in_one_sentence() -> None:
    quiet, open_, mine = _room("A"), _room("B", {}), _room("C", {"state": "acknowledged"})
    assert _page(quiet).headline == "All quiet in 1 room"
    assert _page(quiet, open_).headline == "1 room needs someone"
    assert _page(quiet, open_, _room("D", {}), mine).headline == "2 rooms need someone, somebody has 1 other"
    assert _page(quiet, mine).headline == "Somebody has 1 room"
    assert _page(quiet, whole=1).headline == "All quiet in 1 room; an alarm concerns the whole facility"
    assert _page().headline == "No rooms yet"


def test_filters_choose_rooms_and_leave_the_headline_as_it_is() -> None:
    rooms = (_room("Room 1"), _room("Room 2", {"message": "Pot 7 dries out."}), _room("Room 3", tension=300.0))
    assert _names(_page(*rooms, filters=Filters(state="needs-someone"))) == [["Room 2"]]
    assert _names(_page(*rooms, filters=Filters(text="pot 7 DRIES"))) == [["Room 2"]]
    assert _names(_page(*rooms, filters=Filters(text="room 3"))) == [["Room 3"]]
    assert _names(_page(*rooms, filters=Filters(facility="elsewhere"))) == []
    page = _page(*rooms, filters=Filters(text="nothing like it"))
    assert (page.shown, page.rooms, page.headline) == (0, 3, "1 room needs someone")


def test_a_card_says_who_has_an_alarm_and_how_many_are_explained_or_set_aside() -> None:
    row = room()
    made = card(
        state(
            row,
            container(row, 100.0),
            alarm(row, state="acknowledged", acknowledged_by="Mara"),
            alarm(row, state="suppressed-by-design"),
            alarm(row, state="shelved"),
        ),
        NOW,
    )
    assert [trouble.answer for trouble in made.troubles] == ["Mara has it"]
    assert (made.explained, made.shelved, made.more_troubles) == (1, 1, 0)


def test_a_card_shows_three_alarms_and_counts_the_rest() -> None:
    made = card(_room("Room 1", {}, {}, {}, {}, {}), NOW)
    assert (len(made.troubles), made.more_troubles) == (3, 2)


def test_containers_outside_the_band_are_named_farthest_first() -> None:
    row = room()
    pots = [container(row, tension, f"Pot {number}") for number, tension in enumerate((190.0, 250.0, 30.0, 100.0), 1)]
    made = card(state(row, *pots, container(row, 100.0, "Pot 9", read_at=NOW - timedelta(hours=2))), NOW)
    assert made.outside == "dry: Pot 2 250 and Pot 1 190; wet: Pot 3 30"
    assert made.unheard == "1 not heard lately"
    assert made.spread == "30–250 mbar"


def _water(level: float | None, hours: float | None = None, **changes: Any) -> water.Water:
    row = room()
    tank = reservoir(row, level, **changes)
    run_outs = {} if hours is None else {tank.id: RunOut(NOW + timedelta(hours=hours), None, None, 2.0)}
    return water.water(state(row, tank, run_outs=run_outs).reservoirs[0], state(row).zone, NOW)


def test_water_is_said_in_litres_and_until_when() -> None:
    assert (_water(270.0, 9.0).amount, _water(270.0, 9.0).run_out, _water(270.0, 9.0).mood) == (
        "53 l",
        "until 19:30",
        "soon",
    )
    assert (_water(270.0, 30.0).run_out, _water(270.0, 30.0).mood) == ("until tomorrow 16:30", "")
    assert _water(270.0, 100.0).run_out == "for 4 days"
    assert _water(270.0).run_out == ""
    assert (_water(60.0, 0.0).amount, _water(60.0, 0.0).mood) == ("empty", "empty")
    assert _water(80.0).amount == "2.6 l"


def test_water_that_is_not_read_does_not_pass_for_water() -> None:
    assert _water(None).mood == "silent"
    silent = _water(270.0, 9.0, read_at=NOW - timedelta(hours=3))
    assert (silent.run_out, silent.mood) == ("not heard since 07:30", "silent")
    assert _water(100.0, keys={}).amount == "measures can't be right"


def test_reservoirs_that_run_out_within_a_day_are_listed_soonest_first() -> None:
    row = room("Room 1")
    tanks = [reservoir(row, 270.0, name) for name in ("East", "West", "North")]
    hours = dict(zip([tank.id for tank in tanks], (20.0, 3.0, 30.0), strict=True))
    run_outs = {id: RunOut(NOW + timedelta(hours=left), None, None, 1.0) for id, left in hours.items()}
    page = _page(state(row, *tanks, container(row, 100.0), run_outs=run_outs))
    assert [(one.name, one.left) for one in page.soon] == [("West", "3 h"), ("East", "20 h")]


def test_a_card_names_what_is_out_of_service_and_leaves_it_out_of_what_is_wrong() -> None:
    row = room()
    pots = [container(row, 300.0, "Pot 1"), container(row, 100.0, "Pot 2")]
    until = NOW + timedelta(hours=3)
    period = Period(pots[0].id, "container", pots[0].id, "Pot 1", NOW, until)
    made = card(state(row, *pots, out=[Listed(period, row.facility_id, "", row.id, row.slug, None)]), NOW)
    assert made.out == "Out of service: container Pot 1, until 13:30"
    assert (made.outside, made.spread) == ("", "100–100 mbar")
    assert made.scale is not None
    assert (made.scale.dry, bool(made.scale.resting)) == ((), True)
    assert made.need == "quiet"
    whole = Period(row.id, "room", row.id, row.name, NOW, until)
    resting = state(row, *pots, out=[Listed(whole, row.facility_id, "", row.id, row.slug, None)])
    assert card(resting, NOW).out == "Out of service until 13:30"
    assert card(resting, NOW).need == "out-of-service"
    calling = state(row, *pots, alarm(row), out=[Listed(whole, row.facility_id, "", row.id, row.slug, None)])
    assert card(calling, NOW).need == "needs-someone"


def test_a_share_in_band_is_whole_only_where_nothing_is_missing() -> None:
    assert [percent(share) for share in (1.0, 0.9999, 0.994, 0.5, 0.0)] == ["100 %", "99 %", "99 %", "50 %", "0 %"]
