"""The duty changes hands while something is unanswered: who takes over is called, once, and nobody else again."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from uuid import UUID

from tests.unit.alarms.places import START, Watch, drafts, found, named, pot
from tests.unit.alarms.test_escalation import BOSS, EMPTY, FIRST, LATER, SECOND, somebody
from wickwatch.alarms import Act, Alarm, Changes, Duty, NoticeDraft, after, apply, hand_over, unanswered

#: Nobody stands behind them, so that nothing but the change of hands calls.
ALONE = Duty((FIRST,))
NEXT = replace(ALONE, people=(somebody(1, "next"),))
CALLED = [FIRST.person_id]


def raised(*findings, minute: int = 1, duty: Duty = ALONE):  # type: ignore[no-untyped-def]
    """A watch with alarms that `duty` was called for."""
    watch = Watch()
    watch.duty = duty
    watch.sweeps(0, minute, *findings)
    return watch


def taken_over(watch: Watch, duty: Duty, minute: int, called: list[UUID]) -> tuple[Changes, list[NoticeDraft]]:
    """What the change of hands does, where the same people were called for everything."""
    everything = {alarm.id: called for alarm in watch.book.alarms.values()}
    at = START + timedelta(minutes=minute)
    changes = hand_over(unanswered(watch.book, at), duty, everything, at)
    return changes, drafts(changes, duty)


def alarm_of(changes: Changes) -> Alarm:
    (alarm,) = changes.alarms
    return alarm


def test_who_takes_over_is_called_and_told_why() -> None:
    watch = raised(EMPTY)
    changes, (draft,) = taken_over(watch, NEXT, 240, CALLED)
    assert [entry.event for entry in changes.journal] == ["handed-over"]
    assert draft.person_id == named("next")
    assert draft.title.endswith("(nobody has it yet)")
    assert "It is yours to answer now." in draft.body
    assert alarm_of(changes).called_at == START + timedelta(minutes=240)


def test_several_are_one_message_of_any_kind() -> None:
    watch = raised(EMPTY, found("sudden-wetting", pot()), found("sudden-wetting", pot(1, room=4), room=4))
    changes, (draft,) = taken_over(watch, NEXT, 240, CALLED)
    assert len(changes.journal) == 3
    assert draft.title.startswith("High: 3 alarms, the worst:")
    assert draft.body.startswith("It is yours to answer now.")


def test_who_was_called_is_not_called_again_whatever_step_they_stand_on_now() -> None:
    watch = raised(EMPTY)
    swapped = Duty((replace(SECOND, step=1), replace(FIRST, step=2)), managers=(BOSS,))
    changes, told = taken_over(watch, swapped, 240, [FIRST.person_id, SECOND.person_id])
    assert (changes.journal, told) == ((), [])


def test_only_rungs_that_were_called_are_called_by_a_change_of_hands() -> None:
    watch = raised(EMPTY, minute=5, duty=Duty((FIRST, SECOND)))
    behind = Duty((FIRST, somebody(2, "another second")))
    assert taken_over(watch, behind, 6, CALLED)[1] == []
    watch.sweeps(6, 15, EMPTY)
    assert watch.only("reservoir-empty").rung == 2
    _, (draft,) = taken_over(watch, behind, 16, [FIRST.person_id, SECOND.person_id])
    assert draft.person_id == named("another second")


def test_what_somebody_has_is_not_handed_over() -> None:
    watch = raised(EMPTY)
    mine, _ = apply(watch.only("reservoir-empty"), Act("acknowledge"), FIRST.person_id, START + timedelta(minutes=3))
    watch.put(mine)
    assert taken_over(watch, NEXT, 240, CALLED)[1] == []


def test_low_priority_waits_until_the_one_who_took_over_is_awake() -> None:
    watch = raised(LATER, minute=15)
    asleep = Duty((replace(NEXT.people[0], quiet_until=START + timedelta(hours=3)),))
    assert taken_over(watch, asleep, 120, CALLED)[1] == []
    _, (draft,) = taken_over(watch, NEXT, 181, CALLED)
    assert draft.person_id == named("next")


def test_the_next_rung_waits_its_full_time_after_a_change_of_hands() -> None:
    duty = Duty((FIRST, SECOND))
    watch = raised(EMPTY, minute=5, duty=duty)
    changes, _ = taken_over(watch, Duty((*NEXT.people, SECOND)), 6, CALLED)
    watch.book = after(watch.book, changes)
    watch.sweeps(7, 15, EMPTY)
    assert watch.only("reservoir-empty").rung == 1
    watch.sweeps(16, 16, EMPTY)
    assert watch.only("reservoir-empty").rung == 2
