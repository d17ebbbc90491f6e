"""Kinds, states, priorities and events are the same words in code, schema and contract."""

from __future__ import annotations

import re
from datetime import timedelta
from itertools import pairwise
from pathlib import Path

import pytest

from wickwatch.alarms import EVENTS, PART_TYPES, POLICIES, PRIORITIES, STATES, TRANSITIONS, transitions
from wickwatch.alarms.policy import PRIORITY_OF, TIME_TO_ACT, more_urgent
from wickwatch.fleet import KINDS

MIGRATIONS = sorted((Path(__file__).parents[3] / "db" / "migrations").glob("*.sql"))
SCHEMA = "\n".join(each.read_text() for each in MIGRATIONS)

# The public contract, section 5.
CONTRACT_KINDS = [
    "drying-drift",
    "sudden-wetting",
    "reservoir-low",
    "reservoir-empty",
    "reservoir-leak",
    "supply-interrupted",
    "uneven-room",
    "probe-silent",
    "probe-fault",
    "gateway-silent",
    "monitoring-stopped",
]
CONTRACT_STATES = [
    "unacknowledged",
    "acknowledged",
    "returned-unacknowledged",
    "normal",
    "shelved",
    "suppressed-by-design",
    "out-of-service",
]
CONTRACT_PRIORITIES = ["high", "medium", "low"]


def checked(table: str, column: str) -> list[str]:
    """Words that a column's CHECK accepts, by the newest migration that says so."""
    create = SCHEMA[SCHEMA.index(f"CREATE TABLE {table} (") :]
    create = create[: create.index("\n);")]
    later = re.findall(rf"ALTER TABLE {table} ADD CONSTRAINT \w+ CHECK \({column} IN \(([^)]*)\)", SCHEMA)
    found = later or re.findall(rf"CHECK \({column} IN \(([^)]*)\)", create)
    assert found, (table, column)
    return re.findall(r"'([^']+)'", found[-1])


@pytest.mark.parametrize(
    ("code", "schema", "contract"),
    [
        (KINDS, checked("alarm", "kind"), CONTRACT_KINDS),
        (STATES, checked("alarm", "state"), CONTRACT_STATES),
        (STATES, checked("alarm_journal", "state"), CONTRACT_STATES),
        (PRIORITIES, checked("alarm", "priority"), CONTRACT_PRIORITIES),
        (PRIORITIES, checked("alarm_call", "priority"), CONTRACT_PRIORITIES),
        (EVENTS, checked("alarm_journal", "event"), list(EVENTS)),
        (PART_TYPES, checked("out_of_service", "type"), list(PART_TYPES)),
    ],
    ids=["kinds", "states", "journal states", "priorities", "priorities of calls", "events", "out of service"],
)
def test_code_schema_and_contract_say_the_same(code: tuple[str, ...], schema: list[str], contract: list[str]) -> None:
    assert list(code) == schema == contract


def test_every_state_and_event_is_in_the_transition_table_and_each_row_is_there_once() -> None:
    assert {row.state for row in TRANSITIONS} == set(STATES)
    assert {row.event for row in TRANSITIONS} == set(EVENTS)
    assert len({(row.state, row.event) for row in TRANSITIONS}) == len(TRANSITIONS)
    assert {row.present for row in TRANSITIONS} | {row.absent for row in TRANSITIONS} == {*STATES, None}


def test_the_drawing_beside_the_table_has_every_letter_of_it() -> None:
    drawn = set(re.findall(r"\b[A-Z]\b", transitions.__doc__ or ""))
    assert drawn == {row.letter for row in TRANSITIONS}


def test_priorities_fall_with_time_to_act_and_with_consequence() -> None:
    for row in PRIORITY_OF.values():
        assert len(row) == len(TIME_TO_ACT) + 1
        assert not any(more_urgent(later, sooner) for sooner, later in pairwise(row))
    for severe, moderate, minor in zip(*PRIORITY_OF.values(), strict=True):
        assert not more_urgent(moderate, severe) and not more_urgent(minor, moderate)


def test_delays_are_not_negative_and_every_policy_says_why() -> None:
    for policy in POLICIES.values():
        assert min(policy.on_delay, policy.off_delay, policy.release, policy.time_to_act) >= timedelta(0)
        assert policy.why
