"""Measures of how the alarms serve, against examples worked out by hand."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from tests.unit.alarms.places import named
from wickwatch.alarms import Event, JournalEntry, State
from wickwatch.alarms.measures import Measures, measure
from wickwatch.alarms.measures_frame import Called, calls_frame, journal_frame
from wickwatch.alarms.measures_load import floods, peak
from wickwatch.alarms.measures_targets import Line, lines, person_lines
from wickwatch.alarms.measures_times import times
from wickwatch.alarms.weeks import week_of, week_span
from wickwatch.errors import InputError

OSLO = ZoneInfo("Europe/Oslo")
START, END = week_span("2026-W47", OSLO)
MINUTE, HOUR, DAY = timedelta(minutes=1), timedelta(hours=1), timedelta(days=1)
ANE, BO = named("Ane"), named("Bo")

Told = tuple[timedelta, Event, State, bool]


def at(day: int, hour: float = 0, minute: float = 0) -> timedelta:
    return day * DAY + hour * HOUR + minute * MINUTE


def alarm(
    name: str, *told: Told, kind: str = "drying-drift", subject: str = "", by: object = ANE
) -> list[JournalEntry]:
    """An alarm's journal: since the week began, event, state, whether it asks for somebody."""
    about = {
        "kind": kind,
        "subject": {"type": "container", "id": str(named(subject or name)), "name": subject or name},
        "room_id": None,
        "priority": "medium",
    }
    return [
        JournalEntry(
            named(f"alarm {name}"),
            number,
            START + since,
            event,
            state,
            by if event == "acknowledged" else None,  # type: ignore[arg-type]
            (about if number == 1 else {}) | ({"call": True} if call else {}),
        )
        for number, (since, event, state, call) in enumerate(told, 1)
    ]


def raised(since: timedelta, call: bool = True) -> Told:
    return since, "raised", "unacknowledged", call


def mine(since: timedelta) -> Told:
    return since, "acknowledged", "acknowledged", False


def gone(since: timedelta) -> Told:
    return since, "cleared", "normal", False


def measured(*journals: list[JournalEntry], calls: Sequence[Called] = (), end: datetime = END) -> Measures:
    entries = [entry for journal in journals for entry in journal]
    return measure(journal_frame(entries), calls_frame(calls), START, end, OSLO, {str(ANE): "Ane"})


def line(measures: Measures, name: str) -> Line:
    return next(each for each in lines(measures) if each.name == name)


def burst(first: timedelta, count: int, every: timedelta = MINUTE) -> list[list[JournalEntry]]:
    return [alarm(f"{first} {n}", raised(first + n * every)) for n in range(count)]


def test_a_flood_begins_with_the_tenth_in_ten_minutes_and_ends_when_four_are_left() -> None:
    # Worked by hand: alarms at minutes 0 to 9; the tenth is at minute 9, and at 15 only those of 6 to 9 are younger
    # than ten minutes.
    ten = [START + n * MINUTE for n in range(10)]
    assert floods(ten) == [(START + 9 * MINUTE, START + 15 * MINUTE)]
    assert floods(ten[:9]) == []


def test_a_quarter_of_an_hour_of_flood_in_a_day_is_just_over_the_target() -> None:
    # Derived: ten at once is a flood until they are ten minutes old; with ten more at minute 5 it lasts 15 minutes.
    both = [journal for first in (0, 5) for journal in burst(at(1, 0, first), 10, timedelta(0))]
    found = measured(*both)
    assert found.load.flood == 15 * MINUTE
    day = measure(
        journal_frame([e for j in both for e in j]), calls_frame([]), START + DAY, START + 2 * DAY, OSLO
    ).load.flood_share
    assert day == pytest.approx(15 / 1440)  # 1.04 %
    assert line(found, "flood_share").shown == "0.1 %" and line(found, "flood_share").met is True


def test_a_flood_that_was_going_on_when_the_week_began_counts_from_there() -> None:
    found = measured(*burst(-5 * MINUTE, 10, timedelta(0)))
    assert found.load.flood == 5 * MINUTE
    assert found.load.count == 0 and found.load.peak_10_minutes == 0


def test_what_came_exactly_ten_minutes_ago_is_over() -> None:
    assert peak([START + n * MINUTE for n in (0, 1, 2, 10)]) == 3
    assert peak([START, START, START + 9.99 * MINUTE, START + 30 * MINUTE]) == 3
    assert peak([]) == 0


def test_counts_are_per_week_and_by_the_facilitys_own_days() -> None:
    # Two on Monday 23:30 and Tuesday 00:30 by the facility's clock are one each day, though both are Monday in UTC.
    found = measured(
        alarm("a", raised(at(0, 23.5))), alarm("b", raised(at(1, 0.5))), alarm("c", raised(at(1, 20))),
        alarm("before", raised(-HOUR)), alarm("after", raised(7 * DAY)),
    )  # fmt: skip
    assert (found.load.count, found.load.most_in_a_day) == (3, 2)
    assert found.load.per_day == pytest.approx(3 / 7)
    assert line(found, "alarms_per_day").shown == "0.4" and line(found, "alarms_per_day").met is True


def test_an_explained_alarm_asked_nobody_and_is_in_no_count() -> None:
    found = measured(
        alarm("a", raised(at(1))),
        alarm("b", raised(at(1), False), (at(1), "suppressed", "suppressed-by-design", False)),
    )
    assert found.load.count == 1 and [each.subject_name for each in found.frequent] == ["a"]


def test_the_ten_most_frequent_are_told_with_their_share() -> None:
    # Twelve things: the first asks three times, the second twice, the others once: 3 + 2 + 8 of 15.
    journals = [alarm(f"first {n}", raised(at(n)), gone(at(n, 1)), subject="first") for n in range(3)]
    journals += [alarm(f"second {n}", raised(at(n)), gone(at(n, 1)), subject="second") for n in range(2)]
    journals += [alarm(f"other {n:02}", raised(at(3))) for n in range(10)]
    found = measured(*journals)
    assert [(each.subject_name, each.count) for each in found.frequent][:3] == [
        ("first", 3), ("second", 2), ("other 00", 1),
    ]  # fmt: skip
    assert len(found.frequent) == 10 and found.frequent_share == pytest.approx(13 / 15)
    assert line(found, "frequent_share").met is None  # ten of fifteen are more than 5 % whatever anybody does


def test_three_times_in_a_night_is_chattering_and_three_times_in_a_week_is_not() -> None:
    def again(name: str, *hours: float) -> list[list[JournalEntry]]:
        return [
            alarm(f"{name} {h}", raised(at(1, h)), mine(at(1, h, 1)), gone(at(1, h, 30)), subject=name) for h in hours
        ]

    found = measured(*again("restless", 0, 2, 7), *again("calm", 0, 8, 16))
    assert [(each.subject_name, each.count) for each in found.chattering] == [("restless", 3)]
    assert line(found, "chattering").met is False


def test_standing_is_longer_than_a_day_without_a_break_answered_or_not() -> None:
    found = measured(
        alarm("answered", raised(at(0)), mine(at(0, 1)), gone(at(2))),  # stale from day 1 to day 2
        alarm("still", raised(at(5))),  # stale from day 6 on
        alarm("short", raised(at(0)), gone(at(1))),  # exactly a day is not longer
        alarm("shelved", raised(at(0)), (at(0, 20), "shelved", "shelved", False)),
        alarm("old", raised(at(-9)), gone(at(-1))),
    )
    assert [(each.subject_name, each.until) for each in found.standing] == [
        ("answered", START + 2 * DAY), ("still", None),
    ]  # fmt: skip
    assert found.standing_most_in_a_day == 1 and line(found, "standing_most_in_a_day").met is True


def test_the_time_to_mine_runs_from_the_first_call_that_nobody_answered() -> None:
    found = measured(
        alarm("a", raised(at(0)), mine(at(0, 0, 10))),
        alarm(
            "b", raised(at(1)), (at(1, 1), "cleared", "returned-unacknowledged", False),
            (at(1, 5), "returned", "unacknowledged", True), mine(at(1, 6)),
        ),
        alarm("worse", raised(at(2)), mine(at(2, 0, 20)),
              (at(2, 3), "re-alarmed", "unacknowledged", True), mine(at(2, 3, 30))),
        alarm("nobody", raised(at(3)), (at(3, 1), "cleared", "returned-unacknowledged", False)),
        alarm("by a replay", raised(at(4)), (at(4, 1), "cleared", "returned-unacknowledged", False),
              (at(4, 1), "acknowledged", "normal", False), by=None),
    )  # fmt: skip
    # 10, 20, 30 and 360 minutes: the median is 25 minutes, nine in ten within the last.
    assert found.to_acknowledge.count == 4 and found.unanswered == 2
    assert (found.to_acknowledge.median, found.to_acknowledge.ninetieth) == (25 * MINUTE, 6 * HOUR)
    assert line(found, "to_acknowledge_median_s").shown == "25 min"
    assert line(found, "to_acknowledge_median_s").source == "no published target"


def test_nine_in_ten_is_the_least_that_nine_of_ten_do_not_exceed() -> None:
    took = times([n * MINUTE for n in range(10, 0, -1)])
    assert (took.median, took.ninetieth, took.longest) == (5.5 * MINUTE, 9 * MINUTE, 10 * MINUTE)
    assert times([]).median is None


def test_what_went_and_was_there_again_within_a_day_came_back_whichever_alarm_it_was_then() -> None:
    found = measured(
        alarm("one life", raised(at(0)), (at(0, 1), "cleared", "returned-unacknowledged", False),
              (at(0, 2), "returned", "unacknowledged", False), gone(at(0, 4))),
        alarm("first", raised(at(2)), gone(at(2, 3)), subject="pot"),
        alarm("second", raised(at(3, 3)), gone(at(3, 4)), subject="pot"),
        alarm("late", raised(at(5)), gone(at(5, 1)), subject="tank"),
        alarm("later", raised(at(6, 2)), subject="tank"),
        alarm("at the end", raised(at(6)), gone(at(6, 23)), subject="end"),
        alarm("next week", raised(at(7, 5)), subject="end"),
    )  # fmt: skip
    # Six went, after 1, 2, 3, 1, 1 and 23 hours; back were the first (1 h later), the third (24 h), the last (6 h).
    assert found.to_clear.count == 6 and found.came_back == 3
    assert found.to_clear.median == timedelta(hours=1.5)
    assert found.came_back_share == 0.5


def test_each_person_has_what_they_were_called_for_and_how_soon_they_answered() -> None:
    journals = [alarm("a", raised(at(0)), mine(at(0, 0, 4))), alarm("b", raised(at(1)), mine(at(1, 0, 6)))]
    calls = [
        Called(START + at(0), named("alarm a"), BO, "Bo"),
        Called(START + at(1), named("alarm b"), BO, "Bo"),
        Called(START - HOUR, named("alarm c"), named("Cy"), "Cy"),
    ]
    ane, bo = measured(*journals, calls=calls).people
    assert (ane.name, ane.load.count, ane.to_acknowledge.median) == ("Ane", 0, 5 * MINUTE)
    assert (bo.name, bo.load.count, bo.to_acknowledge.count) == ("Bo", 2, 0)
    assert [(each.name, each.shown) for each in person_lines(ane)][-2] == ("to_acknowledge_median_s", "5 min")


def test_a_week_without_alarms_has_every_measure() -> None:
    found = measured()
    assert found.load.count == 0 and found.people == () and found.came_back_share is None
    assert {each.shown for each in lines(found)} == {"0", "0.0", "0.000", "0.0 %", "–"}


def test_a_journal_that_does_not_begin_with_the_first_entry_is_refused() -> None:
    with pytest.raises(ValueError, match="does not begin with its first entry"):
        journal_frame(alarm("a", raised(at(0)), gone(at(1)))[1:])


def test_a_week_is_monday_to_monday_by_the_facilitys_clock_and_an_hour_shorter_or_longer_at_daylight_saving() -> None:
    # Published (IANA tz database): Europe/Oslo changed on 29 March and 25 October 2026 at 01:00 UTC.
    assert (datetime(2026, 11, 15, 23, tzinfo=UTC), datetime(2026, 11, 22, 23, tzinfo=UTC)) == (START, END)
    for week, hours in (("2026-W13", 167), ("2026-W43", 169), ("2026-W44", 168), ("2026-W53", 168)):
        begin, end = week_span(week, OSLO)
        assert end - begin == hours * HOUR, week
        assert week_of(begin, OSLO) == week and week_of(end, OSLO) != week
    for wrong in ("2026-47", "2026-W54", "2026-W7", "W47", "2026-W47 ", "2025-W53", "9999-W52", "1000-W01"):
        with pytest.raises(InputError, match="a week as ISO 8601 writes it"):
            week_span(wrong, OSLO)
