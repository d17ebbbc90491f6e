"""What an alarm says of the work that was to mend it."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta
from uuid import UUID

import pytest

from tests.unit.alarms.places import HOUSE, START, pot, reservoir, work
from wickwatch.alarms import verdict
from wickwatch.alarms.model import Condition
from wickwatch.detect.constants import SETTLING_FACTOR
from wickwatch.fleet import KINDS, WORK_KINDS, Kind, Work

HOUR = timedelta(hours=1)


def condition(kind: Kind = "drying-drift", **changes: object) -> Condition:
    subject = reservoir() if kind.startswith("reservoir") else pot()
    made = Condition(pot(9).id, kind, subject, None, START, START, START, {})
    return replace(made, **changes)  # type: ignore[arg-type]


def test_every_kind_names_work_that_mends_it_and_all_of_that_exists() -> None:
    assert set(verdict.MENDS) == set(KINDS)
    assert set().union(*verdict.MENDS.values()) <= set(WORK_KINDS)
    assert set(SETTLING_FACTOR) == set(WORK_KINDS) - {"checked"}


def test_work_between_onset_and_end_helped_by_how_long_after_it_things_were_right() -> None:
    done = [work("re-set-emitter", pot(), 60), work("checked", pot(), 90), work("re-set-emitter", pot(), -60)]
    gone = condition(gone_at=START + 4 * HOUR + timedelta(minutes=10))
    assert verdict.helped(gone, done, 2.0) == {str(done[0].id): 3 * 3600.0 + 600.0}


def test_work_that_had_failed_before_other_work_mended_it_did_not_help() -> None:
    done = [work("purged", pot(), 60), work("re-set-emitter", pot(), 600)]
    gone = condition(gone_at=START + 13 * HOUR)
    assert verdict.helped(gone, done, 2.0) == {str(done[1].id): 3 * 3600.0}


def failed(done: list[Work], at: datetime, kind: Kind = "drying-drift") -> tuple[UUID, bool] | None:
    found = verdict.failed(condition(kind), done, 2.0, at, HOUSE.zone)
    return None if found is None else (found.entry_id, found.helped)


@pytest.mark.parametrize(
    ("kind", "work_kind", "hours"),
    [
        ("drying-drift", "re-set-emitter", 12.0),
        ("drying-drift", "purged", 4.0),
        ("supply-interrupted", "opened-valve", 4.0),
        ("reservoir-empty", "refilled", 1.0),
        ("probe-silent", "replaced-probe", 1.0),
    ],
)
def test_work_did_not_help_once_its_time_is_over_and_not_before(kind: Kind, work_kind: str, hours: float) -> None:
    done = [work(work_kind, pot(), 60)]
    over = START + HOUR + timedelta(hours=hours)
    assert failed(done, over, kind) == (done[0].id, False)
    assert failed(done, over - timedelta(seconds=1), kind) is None


def test_newer_work_is_waited_for_and_looking_is_no_work() -> None:
    done = [work("re-set-emitter", pot(), 0), work("checked", pot(), 5), work("watered-by-hand", pot(), 700)]
    assert failed(done[:2], START + 12 * HOUR) == (done[0].id, False)
    assert failed(done, START + 12 * HOUR) is None


def test_work_before_a_condition_that_comes_soon_after_it_settled_did_not_last() -> None:
    done = [work("re-set-emitter", pot(), -13 * 60), work("watered-by-hand", pot(), -60)]
    assert failed(done, START) == (done[0].id, True)
    assert failed(done, START + 24 * HOUR) is None
    assert failed(done[1:], START) is None, "water given once is not meant to last"


def test_a_condition_from_after_the_work_that_went_as_it_settled_is_explained_by_it() -> None:
    by_hand = [work("watered-by-hand", pot(), 30)]
    wet = condition("sudden-wetting", gone_at=START + HOUR)
    assert verdict.explaining(wet, by_hand, 2.0) == by_hand[0]
    assert verdict.explaining(replace(wet, since=START - HOUR), by_hand, 2.0) is None
    assert verdict.explaining(replace(wet, gone_at=START + 30 * HOUR), by_hand, 2.0) is None
    maintained = [work("maintenance", pot(), -30)]
    assert verdict.explaining(condition(gone_at=START + HOUR), maintained, 2.0) == maintained[0]
    assert verdict.explaining(condition("reservoir-low", gone_at=START + HOUR), maintained, 2.0) is None


def test_a_remark_names_the_work_by_the_facilitys_clock_and_reads_the_same_whenever_it_is_made() -> None:
    entry = work("re-set-emitter", pot(), 60)  # 06:00 in Oslo

    def said(settled_hours: float, at: datetime) -> str:
        found = verdict.failed(condition(), [entry], settled_hours, at, HOUSE.zone)
        assert found is not None
        return found.remark

    assert said(2.0, START + 13 * HOUR) == "Re-setting the emitter at 06:00 did not help."
    assert said(2.0, START + 100 * HOUR) == "Re-setting the emitter at 06:00 did not help."
    assert said(24.0, START + 200 * HOUR) == "Re-setting the emitter at Fri 20 Nov 06:00 did not help."
    assert verdict.said_to_fail(f"Pot 1 is drying out: 152 mbar. {said(2.0, START + 13 * HOUR)}")
