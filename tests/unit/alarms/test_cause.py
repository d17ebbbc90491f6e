"""An explained alarm calls nobody; its cause calls once; and nothing is explained away."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

from tests.unit.alarms.places import GATEWAY, HOUSE, START, Watch, found, judged, line, named, pot, reservoir, room_id
from wickwatch.alarms import POLICIES, Act, apply
from wickwatch.detect.finding import Key
from wickwatch.fleet import Kind, Subject

EMPTY = found("reservoir-empty", reservoir())
DRY_1 = found("drying-drift", pot(1))
DRY_2 = found("drying-drift", pot(2))
DRY_ELSEWHERE = found("drying-drift", pot(1, room=4), room=4)


def acknowledge(watch: Watch, kind: Kind, minute: float) -> None:
    alarm, _ = apply(watch.only(kind), Act("acknowledge"), named("me"), START + timedelta(minutes=minute))
    watch.put(alarm)


def test_an_empty_reservoir_and_its_dry_pots_are_one_call() -> None:
    watch = Watch()
    called: list[str] = []
    for minute in range(61):
        watch.sweep(judged(minute, EMPTY, DRY_1, DRY_2))
        called += watch.called
    assert called == ["R3 east"]
    empty = watch.only("reservoir-empty")
    pots = [alarm for alarm in watch.all.values() if alarm.kind == "drying-drift"]
    assert {(alarm.state, alarm.cause_id) for alarm in pots} == {("suppressed-by-design", empty.id)}
    assert all(alarm.called_at is None for alarm in pots)


def test_pots_on_another_reservoir_call_for_themselves() -> None:
    watch = Watch()
    called: list[str] = []
    for minute in range(11):
        watch.sweep(judged(minute, EMPTY, DRY_1, DRY_ELSEWHERE))
        called += watch.called
    assert called == ["R3 east", "Pot 1"]
    assert {alarm.room_id for alarm in watch.all.values() if alarm.called_at} == {EMPTY.room_id, DRY_ELSEWHERE.room_id}


def test_an_alarm_that_was_there_first_is_explained_once_its_cause_appears() -> None:
    watch = Watch()
    watch.sweeps(0, 10, DRY_1)
    assert watch.only("drying-drift").state == "unacknowledged"
    watch.sweeps(11, 12, DRY_1, EMPTY)
    assert watch.only("drying-drift").state == "suppressed-by-design"


def test_an_answered_alarm_stays_answered_when_a_cause_appears_and_goes() -> None:
    watch = Watch()
    watch.sweeps(0, 10, DRY_1)
    acknowledge(watch, "drying-drift", 11)
    watch.sweeps(12, 20, DRY_1, EMPTY)
    watch.sweeps(21, 600, DRY_1, every=5)
    alarm = watch.only("drying-drift")
    assert (alarm.state, alarm.version) == ("acknowledged", 2)


def test_when_the_cause_ends_what_it_explained_has_time_to_recover_and_then_calls() -> None:
    watch = Watch()
    watch.sweeps(0, 20, EMPTY, DRY_1)
    ended = 21 + 5
    watch.sweeps(21, ended, DRY_1)
    assert watch.only("reservoir-empty").state == "returned-unacknowledged"
    release = ended + int(POLICIES["drying-drift"].release.total_seconds() // 60)
    watch.sweeps(ended + 1, release - 1, DRY_1)
    assert watch.only("drying-drift").state == "suppressed-by-design"
    watch.sweep(judged(release, DRY_1))
    alarm = watch.only("drying-drift")
    assert (alarm.state, alarm.cause_id, watch.called) == ("unacknowledged", None, ["Pot 1"])


def test_the_time_to_recover_counts_also_after_the_cause_was_answered_and_closed() -> None:
    watch = Watch()
    watch.sweeps(0, 20, EMPTY, DRY_1)
    acknowledge(watch, "reservoir-empty", 20)
    watch.sweeps(21, 30, DRY_1)
    assert watch.only("reservoir-empty").state == "normal"
    watch.sweeps(31, 200, DRY_1)
    assert watch.only("drying-drift").state == "suppressed-by-design"
    release = int(POLICIES["drying-drift"].release.total_seconds() // 60)
    watch.sweep(judged(26 + release, DRY_1))
    assert watch.called == ["Pot 1"]


def test_an_explained_alarm_that_clears_closes_by_itself_and_keeps_its_cause() -> None:
    watch = Watch()
    watch.sweeps(0, 20, EMPTY, DRY_1)
    watch.sweeps(21, 90)
    alarm, empty = watch.only("drying-drift"), watch.only("reservoir-empty")
    assert (alarm.state, alarm.cause_id, alarm.called_at) == ("normal", empty.id, None)
    assert alarm.outcome == "Back in its band; no work was recorded; it lasted 21 min."


def test_an_effect_that_ripens_first_waits_for_a_cause_still_pending() -> None:
    watch = Watch()
    dry = found("probe-silent", pot(1))
    silent = found("gateway-silent", GATEWAY, room=None)
    watch.sweep(judged(0, dry))
    watch.sweep(judged(1.5, dry, silent))
    watch.sweep(judged(2, dry, silent))
    assert watch.all == {}
    watch.sweep(judged(2.5, dry, silent))
    assert watch.called == ["gw-01"]
    assert watch.only("probe-silent").state == "suppressed-by-design"


def test_a_cause_that_stays_pending_for_ever_hides_nothing() -> None:
    watch = Watch()
    silent = found("gateway-silent", GATEWAY, room=None)
    quiet = found("probe-silent", pot(1))
    watch.sweep(judged(0, silent, quiet))
    unknown = frozenset({silent.key})
    for minute in range(1, 12):
        watch.sweep(judged(minute, quiet, unknown=unknown))
    assert watch.called == ["Pot 1"]


def test_causes_chain_and_the_root_calls() -> None:
    watch = Watch()
    cut = found("supply-interrupted", line())
    called: list[str] = []
    for minute in range(31):
        watch.sweep(judged(minute, EMPTY, cut, DRY_1))
        called += watch.called
    assert called == ["R3 east"]
    watch.sweeps(31, 40, cut, DRY_1)
    watch.sweep(judged(36 + 120, cut, DRY_1))
    assert watch.called == ["r3-loop"], "the reservoir has water and the line still has none"
    assert watch.only("drying-drift").cause_id == watch.only("supply-interrupted").id


def test_the_likeliest_cause_a_detector_names_comes_before_the_place() -> None:
    watch = Watch()
    dry = found("drying-drift", pot(1), explained_by=(("probe-fault", pot(1).id),))
    fault = found("probe-fault", pot(1))
    watch.sweeps(0, 20, dry, fault, EMPTY)
    assert watch.only("drying-drift").cause_id == watch.only("probe-fault").id


def test_an_uneven_room_hides_no_pot_that_is_about_to_pass_its_dry_limit() -> None:
    watch = Watch()
    uneven = found("uneven-room", Subject("room", room_id(), "Room 3"))
    named_cause = (uneven.key,)
    far = found("drying-drift", pot(1), harm_at=START + timedelta(hours=60), explained_by=named_cause)
    called: list[str] = []
    for minute in range(80):
        watch.sweep(judged(minute, far, uneven))
        called += watch.called
    assert called == ["Room 3"]
    today = found("drying-drift", pot(1), harm_at=START + timedelta(hours=20), explained_by=named_cause)
    watch.sweep(judged(89, today, uneven))
    assert watch.called == []
    near = found("drying-drift", pot(1), harm_at=START + timedelta(hours=5), explained_by=named_cause)
    watch.sweep(judged(90, near, uneven))
    drying = watch.only("drying-drift")
    assert (watch.called, drying.priority, drying.state, drying.cause_id) == (
        ["Pot 1"],
        "medium",
        "unacknowledged",
        None,
    )
    watch.sweeps(91, 200, far, uneven)
    assert watch.only("drying-drift") == drying, "it has called"


def test_what_a_faulty_probe_says_is_explained_however_urgent_it_looks() -> None:
    watch = Watch()
    fault = found("probe-fault", pot(1))
    watch.sweeps(0, 15, fault)
    wet = found("sudden-wetting", pot(1), explained_by=(fault.key,))
    watch.sweep(judged(16, fault, wet))
    assert (watch.only("sudden-wetting").state, watch.called) == ("suppressed-by-design", [])


def test_two_conditions_that_name_each_other_do_not_explain_each_other_away() -> None:
    watch = Watch()
    one = found("probe-fault", pot(1), explained_by=(("drying-drift", pot(1).id),))
    other = found("drying-drift", pot(1), explained_by=(("probe-fault", pot(1).id),))
    watch.sweeps(0, 30, one, other)
    states = sorted(alarm.state for alarm in watch.all.values())
    assert states == ["suppressed-by-design", "unacknowledged"]


def test_a_shelved_cause_still_explains_and_asks_when_shelving_is_over() -> None:
    watch = Watch()
    watch.sweeps(0, 2, EMPTY)
    alarm, _ = apply(
        watch.only("reservoir-empty"),
        Act("shelve", START + timedelta(hours=2)),
        named("me"),
        START + timedelta(minutes=3),
    )
    watch.put(alarm)
    watch.sweeps(4, 119, EMPTY, DRY_1)
    assert watch.only("drying-drift").state == "suppressed-by-design"
    watch.sweep(judged(120, EMPTY, DRY_1))
    assert watch.called == ["R3 east"]


def test_a_gateway_explains_the_silence_of_all_its_probes_in_every_room() -> None:
    watch = Watch()
    silent = [found("probe-silent", pot(n, room), room=room) for n in (1, 2) for room in (3, 4)]
    levels = [found("probe-silent", reservoir(room), room=room) for room in (3, 4)]
    called: list[str] = []
    for minute in range(30):
        watch.sweep(judged(minute, found("gateway-silent", GATEWAY, room=None), *silent, *levels))
        called += watch.called
    assert called == ["gw-01"]
    assert len(watch.all) == 7


def test_a_pot_without_a_line_explains_itself() -> None:
    loose = tuple(
        replace(room, containers=tuple(replace(pot, line_id=None) for pot in room.containers)) for room in HOUSE.rooms
    )
    watch = Watch(replace(HOUSE, rooms=loose))
    called: list[str] = []
    for minute in range(20):
        watch.sweep(judged(minute, EMPTY, DRY_1))
        called += watch.called
    assert called == ["R3 east", "Pot 1"]


def test_a_low_battery_explains_the_silence_of_its_device_and_nothing_that_it_told() -> None:
    fault: Key = ("probe-fault", pot().id)
    low = found("probe-fault", pot(), fault="battery low", battery_percent=7.0)
    silent = found("probe-silent", pot(), explained_by=(fault,))
    drying = found("drying-drift", pot(), explained_by=(fault,))
    watch = Watch()
    called: list[str] = []
    for minute in range(0, 121, 5):
        watch.sweep(judged(minute, low, silent, drying))
        called += [alarm.kind for alarm in watch.last.alarms if alarm.called_at == watch.last.as_of]
    assert sorted(called) == ["drying-drift", "probe-fault"]
    assert watch.only("probe-silent").state == "suppressed-by-design"


def test_a_probe_that_begins_to_lie_while_its_battery_is_low_explains_what_it_tells() -> None:
    fault: Key = ("probe-fault", pot().id)
    low = found("probe-fault", pot(), fault="battery low", battery_percent=7.0)
    lies = found("probe-fault", pot(), fault="jitters")
    drying = found("drying-drift", pot(), explained_by=(fault,))
    watch = Watch()
    watch.sweeps(0, 30, low)
    watch.sweeps(31, 60, lies, drying)
    assert watch.only("drying-drift").called_at is None
