"""A crash between any two steps from raising to recording loses nothing; five hundred of them are in `reliability`."""

from __future__ import annotations

from tests.builders.crashes import begin
from tests.parts.mail import Mailbox


def test_crashes_anywhere_lose_no_alarm_raise_none_twice_and_lose_no_notice(plain_url: str, mailbox: Mailbox) -> None:
    house = begin(plain_url, mailbox, seed=2)
    while house.fuse.burnt.total() < 8:
        house.episode(crash=True)
    house.check()
