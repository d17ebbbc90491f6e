"""One alarm's page as data."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import pytest

from tests.unit.web.rows import NOW, alarm, room
from wickwatch import alarms
from wickwatch.store.pages import JournalRow, NoticeRow
from wickwatch.web.views.alarm import AlarmPage, alarm_page
from wickwatch.web.views.work import form_of_alarm


def _page(may_act: bool = True, journal: list[JournalRow] | None = None, **changes: Any) -> AlarmPage:
    row = alarm(room(), **changes)
    return alarm_page(row, journal or [], [], [], None, [], None, form_of_alarm(row, None, NOW), (), may_act, NOW)


def test_evidence_is_told_with_its_units() -> None:
    evidence = {
        "tension_mbar": 231.0,
        "slope_mbar_per_day": 14.23,
        "usable_l": 0.4,
        "empty_since": "2026-11-25T03:12:00+00:00",
        "sure": True,
        "containers": 6,
        "where": "loop",
        "nothing": None,
    }
    facts = [(fact.label, fact.value) for fact in _page(evidence=evidence).facts]
    assert facts == [
        ("Tension", "231 mbar"),
        ("Slope", "14.2 mbar a day"),
        ("Usable", "0.40 l"),
        ("Empty since", "04:12"),
        ("Sure", "yes"),
        ("Containers", "6"),
        ("Where", "loop"),
    ]


@pytest.mark.parametrize(
    ("state", "acknowledge", "shelve", "unshelve"),
    [
        ("unacknowledged", True, True, False),
        ("acknowledged", False, True, False),
        ("returned-unacknowledged", True, True, False),
        ("shelved", False, False, True),
        ("suppressed-by-design", False, False, False),
    ],
)
def test_what_can_be_done_follows_from_the_state(state: str, acknowledge: bool, shelve: bool, unshelve: bool) -> None:
    page = _page(state=state)
    assert (page.may_acknowledge, page.may_shelve, page.may_unshelve) == (acknowledge, shelve, unshelve)
    nobody = _page(may_act=False, state=state)
    assert not (nobody.may_acknowledge or nobody.may_shelve or nobody.may_unshelve or nobody.may_work)


def test_an_alarm_that_is_over_says_how_it_ended_and_offers_nothing() -> None:
    page = _page(state="normal", closed_at=NOW, outcome="Tension came back.", raised_at=NOW - timedelta(hours=3))
    assert (page.over, page.outcome, page.lasted) == (True, "Tension came back.", "3 h")
    assert not (page.may_acknowledge or page.may_shelve or page.may_work)


@pytest.mark.parametrize(
    ("state", "soon"), [("unacknowledged", "Now"), ("acknowledged", "Now"), ("returned-unacknowledged", "Over")]
)
def test_an_alarm_whose_condition_has_gone_asks_for_nobody_soon(state: str, soon: str) -> None:
    assert _page(state=state, priority="high").trouble.soon == soon


def test_its_life_is_told_newest_first_with_who_and_why() -> None:
    journal = [
        JournalRow(1, NOW - timedelta(hours=1), "raised", "unacknowledged", None, {}),
        JournalRow(2, NOW - timedelta(minutes=5), "acknowledged", "acknowledged", "Mara", {"note": "on my way"}),
    ]
    notice = NoticeRow(NOW - timedelta(minutes=59), "email", "Mara", "sent", NOW - timedelta(minutes=58), 1)
    row = alarm(room())
    page = alarm_page(row, journal, [notice], [], None, [], None, form_of_alarm(row, None, NOW), (), True, NOW)
    assert [(one.what, one.who, one.note) for one in page.life] == [
        ("Acknowledged", "Mara", "on my way"),
        ("Called by e-mail, sent", "Mara", ""),
        ("Raised", "", ""),
    ]


def test_a_call_that_waits_is_said_to_wait() -> None:
    held = JournalRow(1, NOW - timedelta(hours=1), "raised", "unacknowledged", None, {"held": True})
    assert [one.what for one in _page(journal=[held]).life] == ["Raised; the call had to wait"]


def test_every_kind_has_steps_on_its_page() -> None:
    for kind in alarms.STEPS:
        assert _page(kind=kind).advice.steps
