"""An alarm and the work done about it: it waits while things settle, says what helped, or speaks up again."""

from __future__ import annotations

from datetime import timedelta

from tests.unit.alarms.places import START, Watch, found, judged, line, named, pot, reservoir, work
from wickwatch.alarms import Act, apply, replay
from wickwatch.detect.finding import Finding, Judgement, Key
from wickwatch.fleet import Kind, Work

ME = named("me")
DRYING = found("drying-drift", pot())
WET = found("sudden-wetting", pot())
RESET = work("re-set-emitter", pot(), 60)


def settling(minute: float, key: Key, from_minute: float, *findings: Finding) -> Judgement:
    """A judgement in which one condition was not looked for, because of work done at `from_minute`."""
    made = judged(minute, *findings)
    return Judgement(
        made.as_of, made.judged, made.findings, made.unknown, {key: START + timedelta(minutes=from_minute)}
    )


def mine(watch: Watch, kind: Kind, minute: float) -> None:
    alarm, _ = apply(watch.only(kind), Act("acknowledge"), ME, START + timedelta(minutes=minute))
    watch.put(alarm)


def raised(finding: Finding = DRYING, *done: Work) -> Watch:
    """A watch with one alarm, acknowledged, and the work that was done about it."""
    watch = Watch()
    watch.sweeps(0, 50, finding, every=5)
    mine(watch, finding.kind, 50)
    watch.work = list(done)
    return watch


def test_while_a_pot_settles_its_alarm_neither_clears_nor_calls() -> None:
    watch = raised(DRYING, RESET)
    before = watch.only("drying-drift")
    for minute in range(60, 60 + 12 * 60, 30):
        watch.sweep(settling(minute, DRYING.key, 60))
        assert watch.called == []
    assert watch.only("drying-drift") == before


def test_back_in_band_while_it_settles_it_clears_and_says_how_long_after_the_work() -> None:
    watch = raised(DRYING, RESET)
    for minute in range(60, 250, 10):
        watch.sweep(settling(minute, DRYING.key, 60))
    watch.sweeps(250, 310, every=10)  # in its band from 04:10 after the start on
    alarm = watch.only("drying-drift")
    assert alarm.state == "normal"
    assert alarm.outcome == "Back in its band 3 h 10 min after the emitter was re-set; it lasted 4 h 10 min."
    assert watch.last.journal[-1].detail["judged"] == {str(RESET.id): 3 * 3600 + 600}


def test_a_short_visit_to_the_band_while_it_settles_is_no_recovery() -> None:
    watch = raised(DRYING, RESET)
    watch.sweeps(100, 120, every=10)
    watch.sweep(settling(130, DRYING.key, 60))
    watch.sweeps(140, 190, every=10)
    assert watch.only("drying-drift").state == "acknowledged"
    watch.sweep(judged(200))
    assert watch.only("drying-drift").state == "normal"
    assert (watch.only("drying-drift").outcome or "").startswith("Back in its band 1 h 20 min after")


def test_not_back_when_it_has_settled_it_calls_once_more_and_says_that_the_work_did_not_help() -> None:
    watch = raised(DRYING, RESET)
    watch.sweep(settling(700, DRYING.key, 60))
    watch.sweep(judged(60 + 12 * 60, DRYING))
    alarm = watch.only("drying-drift")
    assert (alarm.state, watch.called) == ("unacknowledged", ["Pot 1"])
    assert alarm.message.endswith("Re-setting the emitter at 06:00 did not help.")
    (entry,) = watch.last.journal
    assert (entry.event, entry.detail["judged"]) == ("re-alarmed", {str(RESET.id): None})
    for minute in range(790, 2000, 10):
        watch.sweep(judged(minute, DRYING))
        assert watch.called == []
    mine(watch, "drying-drift", 2000)
    watch.sweeps(2000, 4000, DRYING, every=50)
    assert watch.only("drying-drift").state == "acknowledged", "it is said once"


def test_each_work_that_does_not_help_is_said_once_and_the_one_that_does_is_credited() -> None:
    watch = raised(DRYING, RESET)
    watch.sweep(judged(800, DRYING))
    mine(watch, "drying-drift", 810)
    again = work("replaced-emitter", pot(), 900)
    watch.work.append(again)
    watch.sweep(settling(901, DRYING.key, 900))
    watch.sweeps(1000, 1060, every=10)
    assert watch.only("drying-drift").state == "normal"
    assert watch.last.journal[-1].detail["judged"] == {str(again.id): 6000.0}


def test_a_drought_that_comes_back_a_day_after_the_work_says_that_it_did_not_last() -> None:
    watch = Watch()
    watch.work = [work("re-set-emitter", pot(), -14 * 60)]
    watch.sweeps(0, 10, DRYING)
    alarm = watch.only("drying-drift")
    assert alarm.message.endswith("Re-setting the emitter at Thu 19 Nov 15:00 did not last.")
    assert watch.last.journal[-1].detail["judged"] == {str(watch.work[0].id): None}


def test_watering_by_hand_written_down_afterwards_explains_the_wetting() -> None:
    watch = raised(WET, work("watered-by-hand", pot(), 10))
    for minute in range(60, 100, 10):
        watch.sweep(settling(minute, WET.key, -35))
    alarm = watch.only("sudden-wetting")
    assert (alarm.state, alarm.outcome) == ("normal", "Explained by watering by hand; it lasted 1 h.")
    assert "judged" not in watch.last.journal[-1].detail


def test_a_pending_condition_of_a_pot_that_is_worked_on_starts_afresh() -> None:
    watch = Watch()
    watch.sweep(judged(0, DRYING))
    watch.sweep(settling(5, DRYING.key, 4))
    watch.sweeps(20, 29, DRYING)
    assert watch.all == {}


def test_work_on_what_feeds_a_pot_counts_and_work_elsewhere_does_not() -> None:
    for done, helps in ((work("purged", line(), 60), True), (work("refilled", reservoir(), 60), True),
                        (work("purged", line(4), 60), False)):  # fmt: skip
        watch = raised(DRYING, done)
        watch.sweeps(100, 160 if helps else 100 + 24 * 60, every=10)
        assert ("judged" in watch.last.journal[-1].detail) is helps, done


def test_an_empty_reservoir_is_empty_an_hour_after_the_refill_and_says_so() -> None:
    empty = found("reservoir-empty", reservoir())
    watch = raised(empty, work("refilled", reservoir(), 60))
    watch.sweep(judged(119, empty))
    assert watch.called == []
    watch.sweep(judged(120, empty))
    assert watch.called == ["R3 east"]
    assert watch.only("reservoir-empty").message.endswith("The refill at 06:00 did not help.")


def test_the_journal_rebuilds_an_alarm_whose_work_failed() -> None:
    watch = Watch()
    entries = []
    for minute in range(0, 900, 10):
        watch.work = [RESET] if minute >= 60 else []
        entries += watch.sweep(judged(minute, DRYING)).journal
    assert [entry.event for entry in entries] == ["raised", "re-alarmed"]
    assert replay(entries) == watch.only("drying-drift")


def test_a_remark_is_never_cut_however_long_the_name() -> None:
    watch = Watch()
    subject = type(pot())("container", pot().id, "Pot " + "x" * 500)
    watch.work = [RESET]
    watch.sweeps(0, 800, found("drying-drift", subject), every=20)
    message = watch.only("drying-drift").message
    assert len(message) == 400 and message.endswith("… Re-setting the emitter at 06:00 did not help.")
