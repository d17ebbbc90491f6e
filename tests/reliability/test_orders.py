"""Ten thousand random orders through the alarm's states: none illegal, and every journal replays to the live alarm."""

from __future__ import annotations

import pytest

from tests.unit.alarms.orders import orders_of_events, orders_of_sweeps


def test_ten_thousand_orders_of_events_reach_no_illegal_state_and_replay_to_the_live_one() -> None:
    orders_of_events(range(10_000))


@pytest.mark.timeout(3600)
@pytest.mark.parametrize("part", range(4))
def test_ten_thousand_lives_of_a_house_keep_every_promise(part: int) -> None:
    orders_of_sweeps(range(part * 2_500, (part + 1) * 2_500))
