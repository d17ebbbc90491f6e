"""Who would be called for an alarm, told to whoever asks."""

from __future__ import annotations

from datetime import timedelta

from tests.unit.alarms.places import START, named
from wickwatch.alarms import STATES, Contact, Duty, OnDuty
from wickwatch.alarms.rota_calls import NOBODY, would_call

MINUTE = timedelta(minutes=1)
NIGHT_OVER = START + 3 * timedelta(hours=1)


def who(name: str, step: int = 1, *, quiet: bool = False) -> OnDuty:
    contact = Contact(named(f"{name} mail"), "email", f"{name}@example.org")
    return OnDuty(step, named(name), name, (contact,), NIGHT_OVER if quiet else None)


def told(duty: Duty, priority: str) -> list[tuple[float, list[str], list[str]]]:
    return [
        (rung.after / MINUTE, [each.name for each in rung.people], [each.name for each in rung.spared])
        for rung in would_call(duty, priority).rungs  # type: ignore[arg-type]
    ]


def test_each_rung_is_told_with_the_time_from_the_first_call() -> None:
    duty = Duty((who("Ane"), who("Bo", 2)), managers=(who("Vera"),), answer_within={1: 5 * MINUTE})
    assert told(duty, "high") == [(0, ["Ane"], []), (5, ["Bo"], []), (15, ["Vera"], [])]
    # What is due this week may wait 24 times as long.
    assert told(duty, "low") == [(0, ["Ane"], []), (120, ["Bo"], []), (360, ["Vera"], [])]


def test_quiet_hours_spare_low_priority_alone_and_hold_the_first_call_where_nobody_else_is_first() -> None:
    duty = Duty((who("Ane", quiet=True),), managers=(who("Vera"),))
    assert told(duty, "high")[0] == (0, ["Ane"], [])
    assert told(duty, "low")[0] == (0, [], ["Ane"])
    assert would_call(duty, "low").held_until == NIGHT_OVER and would_call(duty, "medium").held_until is None


def test_a_state_that_asks_for_nobody_says_why() -> None:
    duty = Duty((who("Ane"),))
    assert set(STATES) - NOBODY.keys() == {"unacknowledged"}
    for state, why in NOBODY.items():
        found = would_call(duty, "high", state)
        assert (found.nobody_because, found.rungs) == (why, ())
    assert would_call(Duty(), "high").nobody_because == "nobody can be reached"
