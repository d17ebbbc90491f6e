"""Every word a page may need is there."""

from __future__ import annotations

from typing import get_args

from wickwatch import alarms, watch
from wickwatch.fleet import KINDS, SUBJECT_TYPES, WORK_KINDS
from wickwatch.ingest.reasons import Reason
from wickwatch.store import jobs
from wickwatch.texts import volume
from wickwatch.web.views import health_words, words


def test_every_kind_state_event_priority_work_and_subject_has_its_words() -> None:
    assert set(words.KINDS) == set(KINDS)
    assert set(words.STATES) == set(alarms.STATES)
    assert set(words.EVENTS) == set(alarms.EVENTS)
    assert set(words.PRIORITIES) == set(alarms.PRIORITIES)
    assert set(words.WORK) == set(WORK_KINDS)
    assert set(words.SUBJECTS) == set(SUBJECT_TYPES)


def test_every_part_job_and_reason_to_refuse_readings_has_its_words() -> None:
    assert set(health_words.PARTS) == set(jobs.PARTS)
    assert set(health_words.JOBS) == {watch.JOB}
    assert set(health_words.REFUSED) == set(get_args(Reason))


def test_lists_and_counts_read_as_sentences() -> None:
    assert words.names([]) == ""
    assert words.names(["A"]) == "A"
    assert words.names(["A", "B", "C"]) == "A, B and C"
    assert words.names(["A", "B", "C", "D", "E"]) == "A, B, C and 2 more"
    assert (volume(9.94), volume(9.96), volume(120.4)) == ("9.9 l", "10 l", "120 l")
