"""The heartbeat leaves only while every part is alive, and from one copy only."""

from __future__ import annotations

from tests.unit.alarms.places import START
from wickwatch.notify.heartbeat import is_first, silent_parts
from wickwatch.store.jobs import NEEDED, PARTS, Beat


def beat(part: str, instance: str = "one", healthy: bool = True, age_s: float = 1.0) -> Beat:
    return Beat(part, instance, START, healthy, {}, age_s)


def test_every_part_needs_one_copy_that_is_alive_and_well_and_reports_may_never_have_been_made() -> None:
    alive = [beat(part) for part in PARTS]
    assert silent_parts(alive) == []
    for part in PARTS:
        others = [each for each in alive if each.part != part]
        assert silent_parts(others) == ([part] if part in NEEDED else [])
        assert silent_parts([*others, beat(part, age_s=31.0)]) == [part]
        assert silent_parts([*others, beat(part, healthy=False)]) == [part]
        assert silent_parts([*others, beat(part, "old", age_s=9999.0), beat(part, "new")]) == []


def test_of_several_copies_one_fetches_and_another_takes_over_when_it_is_gone() -> None:
    one, two = beat("notify", "a:1"), beat("notify", "b:2")
    assert [is_first([one, two], name) for name in ("a:1", "b:2")] == [True, False]
    assert is_first([beat("notify", "a:1", age_s=60.0), two], "b:2")
    assert not is_first([], "a:1")
