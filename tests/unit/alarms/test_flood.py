"""A flood of alarms for one person: gathered, told by number and worst, and none lost.

More than ten in ten minutes begins one, fewer than five end it: ANSI/ISA-18.2 and EEMUA 191, from memory.
"""

from __future__ import annotations

import random
from dataclasses import replace
from datetime import timedelta

from tests.unit.alarms.places import HOUSE, START, named, pot, room_id
from wickwatch.alarms import Alarm, Call, Contact, Load, OnDuty, Priority, leaving
from wickwatch.alarms.flood import GATHER, WINDOW, by_urgency, sort

ME = OnDuty(1, named("me"), "Me", (Contact(named("mail"), "email", "me@example.org"),))


def call(number: int, minute: float = 0, priority: Priority = "medium") -> Call:
    at = START + timedelta(minutes=minute)
    alarm = Alarm(
        named(f"alarm {number}"), HOUSE.id, room_id(), "drying-drift", replace(pot(), name=f"Pot {number}"), priority,
        "unacknowledged", True, at, f"Pot {number} dries.", {}, called_at=at, rung=1,
    )  # fmt: skip
    return Call(alarm, 1, "raised", 1, ME, at)


def many(count: int, first: int = 0, minute: float = 0) -> list[Call]:
    return [call(number, minute) for number in range(first, first + count)]


def ids(calls: list[Call]) -> frozenset:  # type: ignore[type-arg]
    return frozenset(each.alarm.id for each in calls)


def test_ten_alarms_are_ten_messages_and_eleven_are_one() -> None:
    assert len(sort(many(10), Load(), START).singles) == 10
    how = sort(many(11), Load(), START)
    assert (how.singles, len(how.summary), how.waiting) == ((), 11, ())


def test_what_came_in_the_last_ten_minutes_counts_and_an_alarm_counts_once() -> None:
    before = Load(ids(many(10)), told="medium")
    assert len(sort([call(99)], before, START).singles + sort([call(99)], before, START).summary) == 1
    assert sort([call(3)], before, START).singles, "the same alarm again is none more"


def test_in_a_flood_calls_are_gathered_for_minutes_unless_worse_ones_come() -> None:
    flooded = Load(ids(many(12)), gathered_at=START, told="medium")
    soon, later = START + GATHER - timedelta(seconds=1), START + GATHER
    new = many(2, 50)
    assert sort(new, flooded, soon).waiting == tuple(new)
    assert sort(new, flooded, later).summary == tuple(new)
    urgent = [call(60, priority="high"), *new]
    assert sort(urgent, flooded, soon).summary == tuple(urgent)
    assert sort(urgent, replace(flooded, told="high"), soon).waiting == tuple(urgent)


def test_a_flood_lasts_until_fewer_than_five_came_and_then_what_waited_leaves() -> None:
    ebbing = Load(ids(many(3)), tuple(many(1, 20)), START, "medium")
    soon = START + timedelta(minutes=1)
    assert sort([], ebbing, soon).singles == tuple(many(1, 20))
    assert sort(many(1, 30), ebbing, soon).waiting
    assert sort([call(7)], Load(), soon).singles, "afterwards each is told by itself"


def test_a_summary_names_the_number_and_the_worst_first() -> None:
    calls = [*many(12), replace(call(13, priority="high"), version=1)]
    sent = leaving(calls, {}, False, "https://house.example.org", HOUSE, START)
    (draft,) = sent.drafts
    assert draft.title == "High: 13 alarms, the worst: drying drift, Pot 13, Room 3"
    assert draft.body.startswith("13 alarms at Birchwood House, told together") and "worst:\nPot 13" in draft.body
    assert all(f"Pot {number} dries." in draft.body for number in (*range(12), 13))
    assert draft.body.count("\n  https://house.example.org/alarms/") == 10, "the most urgent have their own links"
    assert (draft.payload["count"], draft.alarm_id) == (13, None)
    assert {each.notice for each in sent.told} == {draft.key.removesuffix(f":{ME.contacts[0].id}")}


def test_of_two_calls_for_one_alarm_a_summary_tells_the_newest() -> None:
    again = replace(call(1), version=2)
    urgent = call(2, priority="high")
    assert by_urgency([again, call(1), urgent]) == [urgent, again]


def test_whatever_comes_no_call_is_lost_or_told_twice_and_nobody_gets_more_than_a_few_messages() -> None:
    for seed in range(300):
        chance = random.Random(seed)
        history: list[tuple[float, Call]] = []
        waiting: tuple[Call, ...] = ()
        told: list[Call] = []
        sent: list[tuple[float, str, Call]] = []  # when, how, its most urgent
        minute, number = 0.0, 0
        storm = chance.choice((0, 2, 6))
        for _ in range(80):
            minute += 0.5
            new = [call(number + n, minute, chance.choice(("high", "medium"))) for n in range(chance.randint(0, storm))]
            number += len(new)
            if minute > 30:
                new = []
            at, since = START + timedelta(minutes=minute), minute - WINDOW / timedelta(minutes=1)
            lately = [each for each in sent if each[0] > since]
            worst = min((one.alarm.priority for _, _, one in lately), default=None)
            gathered = max(
                (START + timedelta(minutes=when) for when, how, _ in lately if how == "summary"), default=None
            )
            load = Load(ids([one for when, one in history if when > since]), waiting, gathered, worst)
            history += [(minute, one) for one in new]
            how = sort(new, load, at)
            waiting = how.waiting
            told += [*how.singles, *how.summary]
            sent += [(minute, "single", one) for one in how.singles]
            sent += [(minute, "summary", by_urgency(how.summary)[0])] if how.summary else []
            assert len([1 for when, _, _ in sent if when > since]) <= 16, "ten alone, and a few summaries"
        assert waiting == () and sorted(ids(told)) == sorted(ids([one for _, one in history]))
        assert len(told) == len(history)


def test_calls_of_one_kind_in_one_room_at_one_moment_are_one_message_without_a_flood() -> None:
    elsewhere = replace(call(9), alarm=replace(call(9).alarm, room_id=room_id(4)))
    other_kind = replace(call(8), alarm=replace(call(8).alarm, kind="sudden-wetting"))
    sent = leaving([call(1), call(2), elsewhere, other_kind], {}, False, "http://house", HOUSE, START)
    assert [draft.title.split(",")[0] for draft in sent.drafts] == [
        "Medium: 2 alarms", "Medium: drying drift", "Medium: sudden wetting",
    ]  # fmt: skip
    assert [each.how for each in sent.told] == ["single"] * 4
    assert len({each.notice for each in sent.told}) == 3
