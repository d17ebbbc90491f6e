"""When a notice is tried again, and when the next way is used."""

from __future__ import annotations

from datetime import timedelta

from tests.unit.alarms.places import START
from wickwatch.alarms.calls import WORTH_SENDING
from wickwatch.notify.retry import Retry

LATER = START + timedelta(hours=6)


def test_waits_grow_and_the_last_one_repeats() -> None:
    waits = [Retry().again_at(tries, START, LATER) for tries in range(1, 9)]
    seconds = [(at - START).total_seconds() for at in waits if at is not None]
    assert seconds == [5, 15, 45, 120, 300, 600, 600, 600]


def test_a_notice_is_given_up_when_the_next_try_would_come_too_late() -> None:
    assert Retry().again_at(1, LATER - timedelta(seconds=6), LATER) is not None
    assert Retry().again_at(1, LATER - timedelta(seconds=5), LATER) is None


def test_the_next_way_is_used_once_after_two_tries_or_at_once_where_trying_again_cannot_help() -> None:
    retry = Retry()
    assert [retry.next_way(tries, over=False) for tries in (1, 2, 3, 4)] == [False, True, False, False]
    assert [retry.next_way(tries, over=True) for tries in (1, 2, 3)] == [True, True, False]


def test_a_high_call_is_tried_for_hours_and_often_enough_to_outlast_a_server_restart() -> None:
    retry, now, tries = Retry(), START, 0
    while (again := retry.again_at(tries + 1, now, START + WORTH_SENDING["high"])) is not None:
        now, tries = again, tries + 1
    assert tries > 30
