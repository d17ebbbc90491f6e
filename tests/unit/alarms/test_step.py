"""One alarm from the first finding to its end, sweep by sweep. Delays are those of `alarms.policy`."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest

from tests.unit.alarms.places import DRY, HOUSE, RULES, START, Watch, found, judged, named, pot, reservoir, work
from wickwatch.alarms import POLICIES, Act, Alarm, JournalEntry, apply, replay
from wickwatch.fleet import Kind

ME, OTHER = named("me"), named("other")
EMPTY = found("reservoir-empty", reservoir())
DRYING = found("drying-drift", pot(), harm_at=START + timedelta(days=2))


def minutes(delay: timedelta) -> int:
    return -int(-delay.total_seconds() // 60)


def acknowledge(watch: Watch, kind: Kind, minute: float) -> None:
    alarm, _ = apply(watch.only(kind), Act("acknowledge"), ME, START + timedelta(minutes=minute))
    watch.put(alarm)


def test_a_condition_is_pending_until_it_held_for_its_on_delay_then_raises_once_and_calls() -> None:
    watch = Watch()
    watch.sweeps(0, 9, DRYING)
    assert watch.all == {}
    watch.sweep(judged(10, DRYING))
    alarm = watch.only("drying-drift")
    assert (alarm.state, alarm.raised_at, watch.called) == ("unacknowledged", START + timedelta(minutes=10), ["Pot 1"])
    watch.sweeps(11, 200, DRYING)
    assert watch.only("drying-drift").version == 1


def test_a_condition_that_goes_during_its_on_delay_starts_afresh() -> None:
    watch = Watch()
    watch.sweep(judged(0, DRYING))
    watch.sweep(judged(9))
    watch.sweeps(10, 19, DRYING)
    assert watch.all == {}
    watch.sweep(judged(20, DRYING))
    assert watch.only("drying-drift").raised_at == START + timedelta(minutes=20)


@pytest.mark.parametrize("kind", sorted(POLICIES))
def test_every_kind_raises_after_its_on_delay_and_clears_after_its_off_delay(kind: Kind) -> None:
    policy = POLICIES[kind]
    subject = {"reservoir-empty": reservoir(), "reservoir-low": reservoir()}.get(kind, pot())
    finding = found(kind, subject)
    watch = Watch()
    watch.sweep(judged(0, finding))
    assert bool(watch.all) == (policy.on_delay == timedelta(0))
    up = minutes(policy.on_delay)
    watch.sweep(judged(up, finding))
    assert watch.only(kind).state == "unacknowledged"
    watch.sweep(judged(up + 1))
    watch.sweep(judged(up + 1 + minutes(policy.off_delay) - 0.1))
    assert watch.only(kind).state == "unacknowledged", "a gap shorter than the off-delay clears nothing"
    watch.sweep(judged(up + 1 + minutes(policy.off_delay)))
    assert watch.only(kind).state == "returned-unacknowledged"


def test_a_gap_shorter_than_the_off_delay_leaves_no_trace_in_the_journal() -> None:
    watch = Watch()
    watch.sweeps(0, 2, EMPTY)
    watch.sweep(judged(3))
    watch.sweeps(4, 10, EMPTY)
    alarm = watch.only("reservoir-empty")
    assert (alarm.version, watch.book.conditions[alarm.key].gone_at) == (1, None)


def test_kinds_not_judged_and_conditions_unknown_stay_as_they_were() -> None:
    watch = Watch()
    watch.sweeps(0, 10, DRYING)
    before = watch.only("drying-drift")
    watch.sweeps(11, 500, kinds=frozenset({"reservoir-empty"}), every=30)
    watch.sweep(judged(600, unknown=frozenset({before.key})))
    assert watch.only("drying-drift") == before
    pending = Watch()
    pending.sweep(judged(0, DRYING))
    pending.sweep(judged(60, kinds=frozenset({"reservoir-empty"})))
    assert pending.all == {}, "time without judgement is no on-delay"


def test_acknowledged_and_cleared_is_over_and_says_how_it_ended() -> None:
    watch = Watch()
    watch.sweeps(0, 2, EMPTY)
    acknowledge(watch, "reservoir-empty", 3)
    watch.work = [work("refilled", reservoir(), 20)]
    watch.sweeps(4, 21, EMPTY)
    watch.sweeps(22, 27)
    alarm = watch.only("reservoir-empty")
    assert (alarm.state, alarm.cleared_at, alarm.closed_at) == ("normal", *(2 * [START + timedelta(minutes=27)]))
    assert alarm.outcome == "Water again 2 min after the refill; it lasted 22 min."
    assert watch.book.alarms == {}


def test_an_alarm_that_ends_before_anybody_answered_waits_for_an_answer_without_calling_again() -> None:
    watch = Watch()
    watch.sweeps(0, 2, EMPTY)
    watch.sweeps(3, 8)
    alarm = watch.only("reservoir-empty")
    assert (alarm.state, alarm.outcome) == (
        "returned-unacknowledged",
        "Water again; no work was recorded; it lasted 3 min.",
    )
    watch.sweeps(9, 60)
    assert watch.only("reservoir-empty") == alarm
    acknowledge(watch, "reservoir-empty", 61)
    assert watch.only("reservoir-empty").state == "normal"


def test_a_condition_that_returns_unanswered_is_the_same_alarm_and_calls_only_after_hours() -> None:
    watch = Watch()
    watch.sweeps(0, 2, EMPTY)
    first = watch.only("reservoir-empty")
    watch.sweeps(3, 10)
    watch.sweeps(11, 12, EMPTY)
    again = watch.only("reservoir-empty")
    assert (again.id, again.state, again.cleared_at, again.outcome) == (first.id, "unacknowledged", None, None)
    assert watch.called == [] and again.called_at == first.called_at
    watch.sweeps(13, 20)
    watch.sweeps(300, 301, EMPTY)
    assert watch.called == ["R3 east"]


def test_after_the_end_a_new_condition_is_a_new_alarm() -> None:
    watch = Watch()
    watch.sweeps(0, 2, EMPTY)
    acknowledge(watch, "reservoir-empty", 3)
    watch.sweeps(4, 10)
    watch.sweeps(60, 61, EMPTY)
    assert len(watch.all) == 2
    assert watch.called == ["R3 east"]


def test_what_worsens_after_mine_asks_again_at_its_higher_priority_and_never_goes_down() -> None:
    watch = Watch()
    watch.sweeps(0, 10, DRYING)
    assert watch.only("drying-drift").priority == "low"
    acknowledge(watch, "drying-drift", 11)
    sooner = found("drying-drift", pot(), harm_at=START + timedelta(hours=10), tension_mbar=171.0, dry_limit_mbar=180.0)
    watch.sweep(judged(250, sooner))
    assert watch.called == [], "they have just said that it is theirs"
    watch.sweep(judged(251, sooner))
    worse = watch.only("drying-drift")
    assert (worse.state, worse.priority, worse.acknowledged_at, watch.called) == (
        "unacknowledged",
        "medium",
        None,
        ["Pot 1"],
    )
    assert worse.evidence["tension_mbar"] == 171.0 and "171 mbar" in worse.message
    watch.sweep(judged(261, DRYING))
    assert watch.only("drying-drift").priority == "medium"
    assert watch.called == []


def test_after_mine_it_asks_again_when_harm_comes_much_sooner_than_was_told_and_does_not_chatter() -> None:
    watch = Watch()
    told = found("drying-drift", pot(), harm_at=START + timedelta(hours=20))
    watch.sweeps(0, 10, told)
    assert watch.only("drying-drift").priority == "medium"
    acknowledge(watch, "drying-drift", 11)
    for minute in range(12, 200, 4):  # an estimate that wavers says nothing new
        watch.sweep_at(minute, replace(told, harm_at=START + timedelta(hours=14 if minute % 8 else 22)))
        assert watch.called == []
    sooner = replace(told, harm_at=START + timedelta(hours=8))
    watch.sweep_at(260, sooner)
    assert (watch.called, watch.only("drying-drift").priority) == (["Pot 1"], "medium")
    assert watch.only("drying-drift").harm_at == sooner.harm_at
    acknowledge(watch, "drying-drift", 261)
    watch.sweeps(262, 460, sooner)
    assert watch.only("drying-drift").state == "acknowledged", "what was told once is not told again"


def test_within_four_hours_of_the_answer_a_nearer_harm_waits() -> None:
    watch = Watch()
    told = found("drying-drift", pot(), harm_at=START + timedelta(hours=20))
    watch.sweeps(0, 10, told)
    acknowledge(watch, "drying-drift", 11)
    sooner = replace(told, harm_at=START + timedelta(hours=7))
    watch.sweeps(12, 250, sooner)
    assert watch.only("drying-drift").state == "acknowledged"
    watch.sweep_at(251, sooner)
    assert watch.called == ["Pot 1"]


def test_priority_rises_only_once_the_time_is_clear_of_the_limit() -> None:
    watch = Watch()
    watch.sweeps(0, 10, found("drying-drift", pot(), harm_at=START + timedelta(hours=26)))
    assert watch.only("drying-drift").priority == "low"
    watch.sweep_at(60, found("drying-drift", pot(), harm_at=START + timedelta(hours=24)))
    assert watch.only("drying-drift").priority == "low", "23 of 24 hours left are within the deadband"
    watch.sweep_at(61, found("drying-drift", pot(), harm_at=START + timedelta(hours=22)))
    assert watch.only("drying-drift").priority == "medium"


def test_a_place_may_have_longer_delays() -> None:
    slow = replace(RULES, more_on_delay_minutes=20, more_off_delay_minutes=30)
    rooms = tuple(
        replace(room, containers=tuple(replace(each, rules=slow) for each in room.containers)) for room in HOUSE.rooms
    )
    watch = Watch(replace(HOUSE, rooms=rooms))
    watch.sweeps(0, 29, DRYING, found("reservoir-empty", reservoir(4), room=4))
    assert {alarm.kind for alarm in watch.all.values()} == {"reservoir-empty"}
    watch.sweep_at(30, DRYING)
    assert watch.only("drying-drift").state == "unacknowledged"
    watch.sweeps(31, 120)
    assert watch.only("drying-drift").condition_present
    watch.sweep_at(121)
    assert not watch.only("drying-drift").condition_present


def test_a_kind_that_does_not_worsen_stays_at_its_priority() -> None:
    watch = Watch()
    watch.sweeps(0, 5, found("reservoir-low", reservoir(), harm_at=START + timedelta(hours=30)))
    assert watch.only("reservoir-low").priority == "low"
    watch.sweep(judged(6, found("reservoir-low", reservoir(), harm_at=START + timedelta(hours=1))))
    assert (watch.only("reservoir-low").priority, watch.called) == ("low", [])


def test_shelving_ends_by_itself_and_asks_again_if_the_condition_holds() -> None:
    watch = Watch()
    watch.sweeps(0, 2, EMPTY)
    until = START + timedelta(minutes=60)
    alarm, _ = apply(watch.only("reservoir-empty"), Act("shelve", until), ME, START + timedelta(minutes=3))
    watch.put(alarm)
    watch.sweeps(4, 59, EMPTY)
    assert (watch.only("reservoir-empty").state, watch.called) == ("shelved", [])
    watch.sweep(judged(60, EMPTY))
    assert (watch.only("reservoir-empty").state, watch.called) == ("unacknowledged", ["R3 east"])


def test_a_condition_may_come_and_go_while_shelved_and_calls_nobody() -> None:
    watch = Watch()
    watch.sweeps(0, 2, EMPTY)
    until = START + timedelta(minutes=60)
    alarm, _ = apply(watch.only("reservoir-empty"), Act("shelve", until), ME, START + timedelta(minutes=3))
    watch.put(alarm)
    watch.sweeps(4, 10)
    assert watch.only("reservoir-empty").condition_present is False
    watch.sweeps(20, 22, EMPTY)
    assert (watch.only("reservoir-empty").condition_present, watch.only("reservoir-empty").state) == (True, "shelved")
    watch.sweeps(23, 59)
    watch.sweep(judged(60))
    assert (watch.only("reservoir-empty").state, watch.called) == ("normal", [])


def test_out_of_service_ends_by_itself() -> None:
    watch = Watch()
    watch.sweeps(0, 2, EMPTY)
    until = START + timedelta(minutes=60)
    alarm, _ = apply(watch.only("reservoir-empty"), Act("take-out-of-service", until), ME, START + timedelta(minutes=3))
    watch.put(alarm)
    watch.sweeps(4, 59, EMPTY)
    assert watch.only("reservoir-empty").state == "out-of-service"
    watch.sweep(judged(60, EMPTY))
    assert (watch.only("reservoir-empty").state, watch.called) == ("unacknowledged", ["R3 east"])


def test_what_leaves_the_fleet_takes_its_alarm_with_it() -> None:
    watch = Watch()
    watch.sweeps(0, 10, DRYING)
    rooms = tuple(replace(room, containers=()) for room in HOUSE.rooms)
    watch.place = replace(HOUSE, rooms=rooms)
    watch.sweep(judged(11, DRYING))
    alarm = watch.only("drying-drift")
    assert (alarm.state, alarm.outcome) == ("normal", "Pot 1 is no longer in the fleet.")
    assert watch.book.conditions == {} and watch.book.alarms == {}


def test_evidence_stays_what_raised_the_alarm_while_the_condition_keeps_the_newest() -> None:
    watch = Watch()
    watch.sweeps(0, 2, EMPTY)
    lower = found("reservoir-empty", reservoir(), level_mm=8.0, empty_level_mm=70.0)
    watch.sweeps(3, 20, lower)
    alarm = watch.only("reservoir-empty")
    assert alarm.evidence["level_mm"] == 12.0
    assert watch.book.conditions[alarm.key].evidence["level_mm"] == 8.0


def test_a_quiet_sweep_over_standing_conditions_writes_nothing_most_of_the_time() -> None:
    watch = Watch()
    watch.sweeps(0, 10, DRYING, EMPTY)
    written = 0
    for minute in range(11, 71):
        watch.sweep(judged(minute, DRYING, EMPTY))
        written += len(watch.last.conditions)
    assert written == 2 * 12, "each once in five minutes"


def test_evidence_that_json_cannot_hold_becomes_none_and_array_numbers_become_plain() -> None:
    import numpy as np

    watch = Watch()
    evidence = {"level_mm": np.float32(12.5), "fall_mm_per_h": float("nan"), "containers": np.int64(2)}
    watch.sweeps(0, 1, found("reservoir-empty", reservoir(), **evidence))  # type: ignore[arg-type]
    assert watch.only("reservoir-empty").evidence == {"level_mm": 12.5, "fall_mm_per_h": None, "containers": 2}


def test_the_same_history_gives_the_same_alarms() -> None:
    one, two = Watch(), Watch()
    for watch in (one, two):
        watch.sweeps(0, 30, DRYING, EMPTY)
        watch.sweeps(31, 50, DRYING)
    assert one.all == two.all
    assert DRY["tension_mbar"] == one.only("drying-drift").evidence["tension_mbar"]


def test_a_journal_rebuilds_the_state_at_any_past_moment() -> None:
    watch = Watch()
    entries: list[JournalEntry] = []
    states: list[tuple[int, Alarm]] = []
    for minute, findings in [(0, [EMPTY]), (1, [EMPTY]), (3, []), (8, []), (9, [EMPTY]), (10, [EMPTY])]:
        entries += watch.sweep(judged(minute, *findings)).journal
        states += [(len(entries), watch.all[entry.alarm_id]) for entry in watch.last.journal]
    assert [entry.event for entry in entries] == ["raised", "cleared", "returned"]
    for count, alarm in states:
        assert replay(entries[:count]) == alarm
