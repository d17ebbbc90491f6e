"""Nobody says "mine": who is called next, when, and what stops it. Calls that wait for the morning, or for anybody."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

from tests.unit.alarms.places import START, Watch, drafts, found, named, pot, reservoir
from wickwatch.alarms import Act, Contact, Duty, OnDuty, apply
from wickwatch.detect.finding import Finding


def somebody(step: int, name: str) -> OnDuty:
    return OnDuty(step, named(name), name, (Contact(named(f"{name} mail"), "email", f"{name}@example.org"),))


FIRST, SECOND, BOSS = somebody(1, "first"), somebody(2, "second"), somebody(1, "boss")
DUTY = Duty((FIRST, SECOND), managers=(BOSS,))
NIGHT = Duty((replace(FIRST, quiet_until=START + timedelta(hours=3)), SECOND), managers=(BOSS,))
EMPTY = found("reservoir-empty", reservoir())
#: Low priority, which calls at once.
LATER = found("probe-fault", pot(), fault="flat")
DAYS_OFF = found("drying-drift", pot(), harm_at=START + timedelta(days=9))
ME = named("me")


def called(watch: Watch, start: int, end: int, *findings: Finding, duty: Duty = DUTY) -> list[tuple[int, str]]:
    """Sweep minute by minute: who is called, and at which minute."""
    watch.duty, found = duty, []
    for minute in range(start, end + 1):
        watch.sweeps(minute, minute, *findings)
        names = {person.person_id: person.name for rung in duty.ladder for person in rung}
        found += [(minute, names[draft.person_id]) for draft in drafts(watch.last, duty)]
    return found


def test_ten_minutes_without_an_answer_call_the_second_and_ten_more_the_managers_and_then_nobody() -> None:
    watch = Watch()
    assert called(watch, 0, 90, EMPTY) == [(1, "first"), (11, "second"), (21, "boss")]
    alarm = watch.only("reservoir-empty")
    assert (alarm.state, alarm.rung, alarm.version) == ("unacknowledged", 3, 3)


def test_mine_stops_the_climb() -> None:
    watch = Watch()
    assert called(watch, 0, 5, EMPTY) == [(1, "first")]
    watch.put(apply(watch.only("reservoir-empty"), Act("acknowledge"), ME, START + timedelta(minutes=5))[0])
    assert called(watch, 6, 90, EMPTY) == []


def test_what_clears_by_itself_calls_nobody_further() -> None:
    watch = Watch()
    called(watch, 0, 3, EMPTY)
    assert called(watch, 4, 60) == []


def test_a_step_with_its_own_time_to_answer_has_that() -> None:
    duty = replace(DUTY, answer_within={1: timedelta(minutes=25), 2: timedelta(minutes=2)})
    assert called(Watch(), 0, 60, EMPTY, duty=duty) == [(1, "first"), (26, "second"), (28, "boss")]


def test_low_priority_climbs_over_hours() -> None:
    assert called(Watch(), 0, 500, LATER) == [(15, "first"), (255, "second"), (495, "boss")]


def test_who_is_called_next_is_told_that_nobody_has_it() -> None:
    watch = Watch()
    called(watch, 0, 11, EMPTY)
    (draft,) = drafts(watch.last, DUTY)
    assert draft.title.endswith("(nobody has it yet)")
    assert "Others were called before you" in draft.body


def test_low_priority_waits_for_the_end_of_quiet_hours_and_is_not_lost() -> None:
    watch = Watch()
    assert called(watch, 0, 179, LATER, duty=NIGHT) == []
    alarm = watch.only("probe-fault")
    assert (alarm.state, alarm.rung, alarm.raised_at) == ("unacknowledged", 0, START + timedelta(minutes=15))
    assert called(watch, 180, 200, LATER) == [(180, "first")]
    assert [entry.event for entry in watch.last.journal] == []
    assert watch.only("probe-fault").rung == 1


def test_quiet_hours_hold_back_nothing_that_cannot_wait() -> None:
    assert called(Watch(), 0, 15, EMPTY, duty=NIGHT) == [(1, "first"), (11, "second")]


def test_what_worsens_in_quiet_hours_calls_at_once() -> None:
    watch = Watch()
    assert called(watch, 0, 20, DAYS_OFF, duty=NIGHT) == []
    soon = replace(DAYS_OFF, harm_at=START + timedelta(hours=8))
    assert called(watch, 21, 22, soon, duty=NIGHT) == [(21, "first")]


def test_what_ends_in_quiet_hours_calls_nobody_in_the_morning() -> None:
    watch = Watch()
    called(watch, 0, 20, DAYS_OFF, duty=NIGHT)
    assert called(watch, 21, 170, duty=NIGHT) == []
    assert watch.only("drying-drift").state == "returned-unacknowledged"
    assert called(watch, 180, 400) == []


def test_a_call_that_reaches_nobody_is_made_once_somebody_can_be_reached() -> None:
    watch = Watch()
    assert called(watch, 0, 60, EMPTY, duty=Duty()) == []
    assert called(watch, 61, 70, EMPTY) == [(61, "first")]


def test_one_awake_of_two_at_a_step_is_called_for_both() -> None:
    other = somebody(1, "other")
    duty = Duty((replace(FIRST, quiet_until=START), other))
    assert called(Watch(), 0, 60, LATER, duty=duty) == [(15, "other")]
