"""Banners for a watch that is not alive."""

from __future__ import annotations

from datetime import timedelta

from tests.unit.web.rows import FACILITY, NOW, VISIBLE
from wickwatch.store.jobs import Beat
from wickwatch.web.views.watching import Banner, banners


def _beats(**ages: float) -> list[Beat]:
    return [Beat(part, "here", NOW, True, {}, age) for part, age in ages.items()]


ALIVE = _beats(ingest=3.0, watch=3.0, notify=3.0)


def _told(beats: list[Beat], swept_s: float | None = 10.0) -> list[Banner]:
    swept = None if swept_s is None else NOW - timedelta(seconds=swept_s)
    return list(banners(beats, {FACILITY: swept}, [VISIBLE], NOW))


def test_nothing_is_said_while_all_parts_live_and_sweeps_follow_one_another() -> None:
    assert _told(ALIVE) == []


def test_a_watch_that_is_gone_late_or_never_ended_a_sweep_is_grave() -> None:
    gone = _told(_beats(ingest=3.0, notify=3.0, watch=600.0))
    assert [(banner.grave, banner.text) for banner in gone] == [
        (True, "Nobody is watching: the watch was last heard 10 min ago. No new alarm will be raised.")
    ]
    assert _told(ALIVE, 300.0)[0].text == "The watch is late in Birchwood House: its last sweep ended 5 min ago."
    assert "no sweep has ended yet" in _told(ALIVE, None)[0].text
    assert all(banner.grave for banner in (*_told(ALIVE, 300.0), *_told(ALIVE, None)))


def test_a_part_that_never_ran_or_says_it_is_not_well_is_told_apart() -> None:
    assert "ingest has not run in the last day" in _told(_beats(watch=3.0, notify=3.0))[0].text
    unwell = [*_beats(watch=3.0, notify=3.0), Beat("ingest", "here", NOW, False, {}, 2.0)]
    assert "ingest says that it is not well" in _told(unwell)[0].text


def test_one_living_copy_of_a_part_is_enough() -> None:
    assert _told([*ALIVE, Beat("watch", "there", NOW, True, {}, 900.0)]) == []


def test_calls_that_do_not_leave_are_said_but_the_page_can_be_trusted() -> None:
    told = _told(_beats(ingest=3.0, watch=3.0))
    assert [(banner.grave, banner.text.startswith("Nobody is called")) for banner in told] == [(False, True)]
