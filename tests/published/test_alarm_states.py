"""Alarm states and their transitions against IEC 62682:2014 / ANSI/ISA-18.2-2016.

Source: the standard's state model as several independent summaries transcribe it, which agree on the four-state core
and on shelving, suppression by design and out of service. The standards themselves were not at hand. Our words for the
standard's events stand beside its own.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from uuid import UUID

import pytest

from wickwatch.alarms import STATES, Alarm, Event, State
from wickwatch.alarms.journal import advance, entry
from wickwatch.alarms.transitions import next_state
from wickwatch.fleet import Subject

# from, the standard's event, our event, whether the condition holds then, to
PUBLISHED: list[tuple[State, str, Event, bool, State]] = [
    ("normal", "condition true for the on-delay", "raised", True, "unacknowledged"),
    ("unacknowledged", "acknowledge", "acknowledged", True, "acknowledged"),
    ("unacknowledged", "condition clear for the off-delay", "cleared", False, "returned-unacknowledged"),
    ("acknowledged", "clear", "cleared", False, "normal"),
    ("returned-unacknowledged", "acknowledge", "acknowledged", False, "normal"),
    ("returned-unacknowledged", "condition true again", "returned", True, "unacknowledged"),
    ("acknowledged", "re-alarm", "re-alarmed", True, "unacknowledged"),
    ("unacknowledged", "shelve", "shelved", True, "shelved"),
    ("acknowledged", "shelve", "shelved", True, "shelved"),
    ("returned-unacknowledged", "shelve", "shelved", False, "shelved"),
    ("unacknowledged", "suppress by design", "suppressed", True, "suppressed-by-design"),
    ("acknowledged", "suppress by design", "suppressed", True, "suppressed-by-design"),
    ("unacknowledged", "out of service", "taken-out-of-service", True, "out-of-service"),
    ("acknowledged", "out of service", "taken-out-of-service", True, "out-of-service"),
    ("returned-unacknowledged", "out of service", "taken-out-of-service", False, "out-of-service"),
    ("shelved", "time over", "shelving-over", True, "unacknowledged"),
    ("shelved", "time over", "shelving-over", False, "normal"),
    ("shelved", "released", "unshelved", True, "unacknowledged"),
    ("shelved", "released", "unshelved", False, "normal"),
    ("suppressed-by-design", "released, condition holds", "released", True, "unacknowledged"),
    ("suppressed-by-design", "clear", "cleared", False, "normal"),
    ("out-of-service", "time over", "service-over", True, "unacknowledged"),
    ("out-of-service", "time over", "service-over", False, "normal"),
    ("out-of-service", "released", "returned-to-service", True, "unacknowledged"),
    ("out-of-service", "released", "returned-to-service", False, "normal"),
]


@pytest.mark.parametrize(("before", "standard", "event", "holds", "to"), PUBLISHED)
def test_a_transition_of_the_standard(before: State, standard: str, event: Event, holds: bool, to: State) -> None:
    assert next_state(before, event, holds) == to, standard


def test_the_states_are_those_of_the_standard_without_the_latched_ones() -> None:
    published = {
        "normal",
        "unacknowledged",
        "acknowledged",
        "returned-unacknowledged",
        "shelved",
        "suppressed-by-design",
        "out-of-service",
    }
    assert set(STATES) == published


def test_shelving_and_out_of_service_are_always_timed() -> None:
    at = datetime(2026, 11, 20, 4, 0, tzinfo=UTC)
    one = UUID(int=1)
    pot = Subject("container", one, "Pot 1")
    alarm = Alarm(one, one, None, "drying-drift", pot, "low", "unacknowledged", True, at, "Dry.", {})
    events: list[tuple[Event, str]] = [("shelved", "shelved_until"), ("taken-out-of-service", "out_of_service_until")]
    for event, field in events:
        until = at + timedelta(hours=1)
        put_aside = advance(alarm, entry(alarm, event, at, one, {"until": until.isoformat()}))
        assert put_aside == replace(alarm, version=2, state=put_aside.state, **{field: until})  # type: ignore[arg-type]
        with pytest.raises(KeyError):
            advance(alarm, entry(alarm, event, at, one))
