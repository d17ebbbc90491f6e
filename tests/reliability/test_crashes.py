"""Five hundred crashes between the steps of raising, queueing, sending and recording: nothing lost, nothing twice."""

from __future__ import annotations

import pytest

from tests.builders.crashes import begin
from tests.parts.mail import Mailbox

CRASHES = 500


@pytest.mark.timeout(3600)
def test_five_hundred_crashes_lose_no_alarm_raise_none_twice_and_lose_no_notice(
    plain_url: str, mailbox: Mailbox
) -> None:
    house = begin(plain_url, mailbox, seed=1)
    while house.fuse.burnt.total() < CRASHES:
        house.episode(crash=True)
    print(f"\n{dict(house.fuse.burnt)}; alarms {house.raised}, mails {len(mailbox.mails)}")
    assert min(house.fuse.burnt.values()) >= CRASHES // 20, "crashes fell into every part"
