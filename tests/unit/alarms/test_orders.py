"""Whatever happens in whatever order, an alarm stays in a legal state, and its journal rebuilds it."""

from __future__ import annotations

from tests.unit.alarms.orders import orders_of_events, orders_of_sweeps


def test_random_orders_of_events_reach_no_illegal_state_and_replay_to_the_live_one() -> None:
    orders_of_events(range(500))


def test_any_order_of_sweeps_and_answers_keeps_the_promises() -> None:
    orders_of_sweeps(range(60))
