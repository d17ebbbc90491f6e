"""What is remembered for a while by id."""

from __future__ import annotations

import threading
from collections.abc import Mapping, Set
from datetime import timedelta
from uuid import UUID

from tests.unit.web.rows import NOW
from wickwatch.web.recent import Recent

LIFE = timedelta(minutes=5)
ONE, TWO, THREE = (UUID(int=number) for number in (1, 2, 3))


class Told:
    """Tells numbers of ids, and which ids it was asked for."""

    def __init__(self) -> None:
        self.asked: list[set[UUID]] = []

    def __call__(self, ids: Set[UUID]) -> Mapping[UUID, int]:
        self.asked.append(set(ids))
        return {id: id.int for id in ids if id != THREE}


def test_an_answer_is_told_once_in_its_life_and_again_after_it() -> None:
    recent, told = Recent[int](LIFE, 10), Told()
    assert recent.of([ONE], NOW, told) == {ONE: 1}
    assert recent.of([ONE, TWO], NOW + LIFE - timedelta(seconds=1), told) == {ONE: 1, TWO: 2}
    assert recent.of([ONE, TWO], NOW + LIFE, told) == {ONE: 1, TWO: 2}
    assert told.asked == [{ONE}, {TWO}, {ONE}]


def test_that_there_is_no_answer_is_remembered_as_well() -> None:
    recent, told = Recent[int](LIFE, 10), Told()
    assert recent.of([THREE], NOW, told) == recent.of([THREE], NOW, told) == {}
    assert told.asked == [{THREE}]


def test_a_clock_that_was_set_back_makes_nobody_wait_for_the_old_time() -> None:
    recent, told = Recent[int](LIFE, 10), Told()
    recent.of([ONE], NOW, told)
    recent.of([ONE], NOW - timedelta(hours=1), told)
    assert told.asked == [{ONE}, {ONE}]


def test_no_more_than_the_most_are_kept_and_the_oldest_go_first() -> None:
    recent, told = Recent[int](LIFE, 2), Told()
    for id in (ONE, TWO):
        recent.of([id], NOW, told)
    assert recent.of([ONE, TWO, THREE], NOW, told) == {ONE: 1, TWO: 2}
    recent.of([TWO], NOW, told)
    recent.of([ONE], NOW, told)
    assert told.asked == [{ONE}, {TWO}, {THREE}, {ONE}]


def test_threads_that_want_the_same_have_it_told_once() -> None:
    recent, told = Recent[int](LIFE, 10), Told()
    start = threading.Barrier(8)
    found: list[dict[UUID, int]] = []

    def ask() -> None:
        start.wait()
        found.append(recent.of([ONE, TWO], NOW, told))

    threads = [threading.Thread(target=ask) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert found == [{ONE: 1, TWO: 2}] * 8
    assert told.asked == [{ONE, TWO}]
