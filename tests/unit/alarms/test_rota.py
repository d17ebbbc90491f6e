"""Weekly turns, holidays and turns by date, laid over one another."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.unit.alarms.places import named
from wickwatch.alarms.rota import DatedTurn, Pattern, Rota, gaps, person_at, quiet_until, spans, whole_turns
from wickwatch.alarms.rota_holidays import between, check, countries
from wickwatch.errors import InputError

OSLO = ZoneInfo("Europe/Oslo")
ANE, BO, CY, DAG = (named(name) for name in ("Ane", "Bo", "Cy", "Dag"))
NAMES = {ANE: "Ane", BO: "Bo", CY: "Cy", DAG: "Dag", None: "-"}
DAY = timedelta(days=1)

#: Hand-over Mondays at 08:00: in winter 07:00 UTC. 23 November 2026 is a Monday.
WEEKLY = Pattern(named("weekly"), 1, (ANE, BO, CY), date(2026, 11, 23), time(8))
START = datetime(2026, 11, 23, 7, tzinfo=UTC)


def told(rota: Rota, start: datetime = START, end: datetime = START + 21 * DAY, step: int = 1) -> list[str]:
    """Spans as days since START and names."""
    return [
        f"{(span.start - START) / DAY:g}-{(span.end - START) / DAY:g} {NAMES[span.person_id]}"
        for span in spans(rota, step, start, end)
    ]


def dated(person: object, start: float, end: float | None, name: str = "swap") -> DatedTurn:
    return DatedTurn(named(name), 1, person, START + start * DAY, None if end is None else START + end * DAY)  # type: ignore[arg-type]


def test_people_follow_one_another_week_by_week_and_begin_again() -> None:
    rota = Rota(OSLO, (WEEKLY,))
    assert told(rota, end=START + 28 * DAY) == ["0-7 Ane", "7-14 Bo", "14-21 Cy", "21-28 Ane"]
    assert person_at(rota, 1, START + 7 * DAY - timedelta(seconds=1)) == ANE
    assert person_at(rota, 1, START + 7 * DAY) == BO
    assert person_at(rota, 1, START + 700 * DAY) == BO  # the 101st turn


def test_before_the_first_and_after_the_last_hand_over_nobody_has_the_duty() -> None:
    ended = Pattern(WEEKLY.id, 1, (ANE, BO), date(2026, 11, 23), time(8), ends_on=date(2026, 12, 3))
    assert told(Rota(OSLO, (ended,)), START - 7 * DAY) == ["-7-0 -", "0-7 Ane", "7-10 Bo", "10-21 -"]


def test_a_pattern_that_follows_another_takes_over_at_its_first_hand_over() -> None:
    first = Pattern(named("first"), 1, (ANE,), date(2026, 11, 23), time(8), ends_on=date(2026, 12, 2))
    second = Pattern(named("second"), 1, (BO, CY), date(2026, 12, 2), time(20), turn_days=4)
    assert told(Rota(OSLO, (first, second))) == ["0-7 Ane", "7-9.5 Ane", "9.5-13.5 Bo", "13.5-17.5 Cy", "17.5-21 Bo"]


def test_a_turn_by_date_stands_before_the_weekly_turns_and_they_go_on_after_it() -> None:
    rota = Rota(OSLO, (WEEKLY,), (dated(DAG, 2, 3.5),))
    assert told(rota, end=START + 14 * DAY) == ["0-2 Ane", "2-3.5 Dag", "3.5-7 Ane", "7-14 Bo"]
    assert told(Rota(OSLO, (WEEKLY,), (dated(DAG, -3, 8),))) == ["0-8 Dag", "8-14 Bo", "14-21 Cy"]
    assert told(Rota(OSLO, (WEEKLY,), (dated(DAG, 9, None),))) == ["0-7 Ane", "7-9 Bo", "9-21 Dag"]


def test_on_a_holiday_another_stands_in_and_a_turn_by_date_stands_before_that() -> None:
    # Norway, published: Christmas Day and the day after are holidays; Christmas Eve is a working day.
    holidays = between("NO", None, date(2026, 12, 1), date(2027, 1, 10))
    assert list(holidays) == [date(2026, 12, 25), date(2026, 12, 26), date(2027, 1, 1)]
    stand_in = Pattern(named("holidays"), 1, (DAG,), date(2026, 1, 1), time(8), on_holidays=True)
    christmas = datetime(2026, 12, 24, 7, tzinfo=UTC)
    rota = Rota(OSLO, (WEEKLY, stand_in), (), holidays)
    found = spans(rota, 1, christmas, christmas + 4 * DAY)
    assert [(span.start.day, NAMES[span.person_id], span.source) for span in found] == [
        (24, "Bo", "weekly"), (25, "Dag", "holiday"), (26, "Dag", "holiday"), (27, "Bo", "weekly"),
    ]  # fmt: skip
    swapped = Rota(OSLO, rota.patterns, (DatedTurn(named("swap"), 1, CY, christmas, christmas + 2 * DAY),), holidays)
    assert [NAMES[span.person_id] for span in spans(swapped, 1, christmas, christmas + 4 * DAY)] == [
        "Cy", "Dag", "Bo",
    ]  # fmt: skip


def test_those_who_stand_in_on_holidays_take_turns_too() -> None:
    both = Pattern(named("holidays"), 1, (DAG, CY), date(2026, 12, 25), time(0), turn_days=1, on_holidays=True)
    rota = Rota(OSLO, (both,), (), between("NO", None, date(2026, 12, 1), date(2027, 1, 1)))
    assert [person_at(rota, 1, datetime(2026, 12, day, 12, tzinfo=UTC)) for day in (24, 25, 26, 27)] == [
        None, DAG, CY, None,
    ]  # fmt: skip


def test_steps_are_apart_and_a_gap_is_where_nobody_has_any() -> None:
    second = Pattern(named("second"), 2, (CY,), date(2026, 11, 30), time(8), ends_on=date(2026, 12, 7))
    first = Pattern(named("first"), 1, (ANE,), date(2026, 11, 23), time(8), ends_on=date(2026, 12, 2))
    rota = Rota(OSLO, (first, second), (dated(BO, 16, 17),))
    assert rota.steps == (1, 2) and told(rota, step=2) == ["0-7 -", "7-14 Cy", "14-21 -"]
    assert gaps(rota, START, START + 21 * DAY) == (
        (START + 14 * DAY, START + 16 * DAY), (START + 17 * DAY, START + 21 * DAY),
    )  # fmt: skip
    assert gaps(Rota(OSLO), START, START + DAY) == ((START, START + DAY),)


def test_a_turn_keeps_its_beginning_though_it_is_looked_at_from_its_middle() -> None:
    rota = Rota(OSLO, (WEEKLY,), (dated(DAG, 2, 3),))
    assert [(span.start - START, span.number) for span in whole_turns(rota, 1, START + 4 * DAY, START + 8 * DAY)] == [
        (3 * DAY, 0), (7 * DAY, 1),
    ]  # fmt: skip


@settings(max_examples=40)
@given(
    st.lists(st.tuples(st.integers(-30, 30), st.integers(1, 30), st.sampled_from([ANE, BO, DAG])), max_size=4),
    st.integers(1, 30),
    st.times(),
)
def test_spans_are_without_hole_or_overlap_and_agree_with_every_moment_asked_alone(
    swaps: list[tuple[int, int, object]], turn_days: int, hand_over: time
) -> None:
    turns, free = [], -100
    for number, (start, length, person) in enumerate(sorted(swaps, key=lambda swap: swap[:2])):
        if start >= free:
            turns.append(dated(person, start, start + length, f"swap {number}"))
            free = start + length
    pattern = Pattern(WEEKLY.id, 1, (ANE, BO, CY), date(2026, 11, 1), hand_over, turn_days)
    rota = Rota(OSLO, (pattern,), tuple(turns), between("NO", None, date(2026, 11, 1), date(2026, 12, 31)))
    begin, end = START - 21 * DAY, START + 40 * DAY
    found = spans(rota, 1, begin, end)
    assert (found[0].start, found[-1].end) == (begin, end)
    assert all(before.end == after.start for before, after in pairwise(found))
    for span in found:
        for moment in (span.start, span.end - timedelta(microseconds=1)):
            assert person_at(rota, 1, moment) == span.person_id


def test_quiet_hours_may_run_over_midnight_or_within_a_day() -> None:
    def until(starts: str, ends: str, at: str) -> str | None:
        found = quiet_until(time.fromisoformat(starts), time.fromisoformat(ends), datetime.fromisoformat(at), OSLO)
        return found and f"{found.astimezone(OSLO):%d %H:%M}"

    assert until("22:00", "06:30", "2026-11-20T23:00+01:00") == "21 06:30"
    assert until("22:00", "06:30", "2026-11-21T05:00+01:00") == "21 06:30"
    assert until("22:00", "06:30", "2026-11-21T06:30+01:00") is None
    assert until("12:00", "14:00", "2026-11-21T13:59+01:00") == "21 14:00"
    assert until("12:00", "14:00", "2026-11-21T11:59+01:00") is None


def test_a_country_or_part_of_one_without_known_holidays_is_refused() -> None:
    check("NO", None)
    check("DE", "BY")
    assert "BY" in countries()["DE"]
    assert between("DE", "BY", date(2026, 1, 6), date(2026, 1, 6)) == {date(2026, 1, 6): "Epiphany"}
    assert between("DE", None, date(2026, 1, 6), date(2026, 1, 6)) == {}
    for country, part, said in (("XX", None, "an ISO 3166-1 code"), ("no", None, "ISO 3166"), ("DE", "XX", "BB, BE")):
        with pytest.raises(InputError, match=said):
            check(country, part)
