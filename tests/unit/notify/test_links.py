"""A link says whose it is and until when to us alone, and is made only of links to our own alarms."""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.unit.alarms.places import START, named
from tests.unit.notify.test_mail import notice
from wickwatch.notify.links import LASTS, Link, personal, read, sign

KEY = "a key that nobody else has, long enough"
BASE = "https://watch.example.org"
LINK = Link(named("ane"), named("alarm"), START + LASTS)


def test_a_link_is_read_as_it_was_signed_and_by_its_key_only() -> None:
    token = sign(KEY, LINK)
    assert read(KEY, token) == LINK
    assert read("another key", token) is None
    assert len(f"{BASE}/a/{token}") < 130, "fits a short message"


@pytest.mark.parametrize("place", range(0, 93, 7))
def test_a_link_changed_anywhere_is_none(place: int) -> None:
    token = sign(KEY, LINK)
    other = "A" if token[place] != "A" else "B"
    assert read(KEY, token[:place] + other + token[place + 1 :]) is None


@pytest.mark.parametrize("token", ["", ".", "x", "é", "a.b.c", "A" * 5000])
def test_what_is_no_link_is_none(token: str) -> None:
    assert read(KEY, token) is None


def test_every_link_to_an_alarm_becomes_the_persons_own_and_nothing_else_changes() -> None:
    alarm, other = named("alarm"), named("other")
    text = f"One:\n{BASE}/alarms/{alarm}\n\nTwo:\n{BASE}/alarms/{other}\n\nAll:\n{BASE}/alarms\n"
    elsewhere = f"https://elsewhere.example.org/alarms/{alarm}"
    payload = {
        "link": f"{BASE}/alarms/{alarm}",
        "alarms": [{"link": f"{BASE}/alarms/{other}"}],
        "see": elsewhere,
        "n": 1,
    }
    queued = replace(notice(), person_id=named("ane"), body=text, payload=payload)
    left = personal(KEY, BASE, queued)
    one, two = (f"{BASE}/a/{sign(KEY, Link(named('ane'), about, START + LASTS))}" for about in (alarm, other))
    assert left.body == f"One:\n{one}\n\nTwo:\n{two}\n\nAll:\n{BASE}/alarms\n"
    assert left.payload == {"link": one, "alarms": [{"link": two}], "see": elsewhere, "n": 1}
    assert personal(KEY, BASE, queued) == left, "the same for every try"
    assert queued.body == text


def test_without_a_key_or_a_person_links_ask_for_a_sign_in() -> None:
    queued = replace(notice(), person_id=named("ane"), body=f"{BASE}/alarms/{named('alarm')}")
    assert personal("", BASE, queued) == queued
    assert personal(KEY, BASE, replace(queued, person_id=None)).body == queued.body
