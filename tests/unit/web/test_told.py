"""A form for work as it is read: when it was done, by the facility's clock."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from uuid import UUID
from zoneinfo import ZoneInfo

import pytest

from tests.unit.web.rows import NOW
from wickwatch.errors import InputError
from wickwatch.web.told import facility_time, told

OSLO = ZoneInfo("Europe/Oslo")
POT = UUID(int=7)


def _told(kind: str = "pruned", subject: str = f"container:{POT}", ago: str = "", at: str = "") -> object:
    return told(kind, subject, ago, at, "", OSLO, NOW)


def test_work_is_of_now_unless_its_time_or_how_long_ago_is_told() -> None:
    assert told("pruned", f"container:{POT}", "", "", "", OSLO, NOW).at == NOW
    assert told("pruned", f"container:{POT}", "30", "", "", OSLO, NOW).at == NOW - timedelta(minutes=30)
    exact = told("pruned", f"container:{POT}", "30", "2026-11-25T07:15", " a\r\n b ", OSLO, NOW)
    assert exact.at == datetime(2026, 11, 25, 6, 15, tzinfo=UTC)
    assert (exact.kind, exact.subject_type, exact.subject_id, exact.note) == ("pruned", "container", POT, "a b")


def test_one_field_can_hold_what_was_done_and_to_what() -> None:
    made = told(f"re-set-emitter:container:{POT}", "", "", "", "", OSLO, NOW)
    assert (made.kind, made.subject_type, made.subject_id) == ("re-set-emitter", "container", POT)


@pytest.mark.parametrize(
    "fields",
    [
        {"subject": "container:nonsense"},
        {"subject": "", "kind": "pruned"},
        {"at": "soon"},
        {"at": "2026-11-25T07:15+01:00"},
        {"at": "0001-01-01T00:00"},
        {"ago": "-5"},
        {"ago": "²"},
        {"ago": "99999"},
    ],
)
def test_what_cannot_be_meant_is_an_error_that_says_what_is_accepted(fields: dict[str, str]) -> None:
    with pytest.raises(InputError, match="accepted"):
        _told(**fields)


def test_an_hour_that_daylight_saving_repeats_is_the_later_one_that_has_come() -> None:
    # Europe/Oslo, 25 October 2026: 02:30 is 00:30 and then 01:30 UTC.
    first, second = datetime(2026, 10, 25, 0, 30, tzinfo=UTC), datetime(2026, 10, 25, 1, 30, tzinfo=UTC)
    assert facility_time("2026-10-25T02:30", OSLO, second + timedelta(hours=1)) == second
    assert facility_time("2026-10-25T02:30", OSLO, second - timedelta(minutes=10)) == first


def test_an_hour_that_daylight_saving_skips_never_was() -> None:
    with pytest.raises(InputError, match="skipped this one"):
        facility_time("2026-03-29T02:30", OSLO, datetime(2026, 3, 30, tzinfo=UTC))
