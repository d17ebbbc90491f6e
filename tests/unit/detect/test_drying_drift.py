"""drying-drift: slow over days, fast within hours, past the limit; and what is no drying."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest

from tests.unit.detect.builders import (
    NOW,
    Course,
    Told,
    facility,
    names,
    plus,
    room,
    sawtooth,
    steady,
    steps,
    worked,
)
from wickwatch.fleet import Rules

KIND = "drying-drift"
PLACE = facility(room())
POT = PLACE.rooms[0].containers[0]
WORKS = plus(sawtooth(88, 105), steady(0, 0.3, 7))


def told(course: Course, **more: object) -> Told:
    made = Told(PLACE, **{"days": 12.0, "interval_s": 300.0, **more})  # type: ignore[arg-type]
    return made.tension(0, course)


def rising(per_day: float, since_days: float) -> Course:
    """Waterings that begin drier by so much a day since so many days before NOW, and go further the drier it is."""

    def course(hours):
        level = 96.5 + per_day * np.maximum(hours / 24 + since_days, 0.0)
        return level + 8.5 * (level / 96.5) ** 0.6 * sawtooth(-1, 1)(hours)

    return plus(course, steady(0, 0.3, 7))


def creeping(per_day: float, since_days: float) -> Course:
    """The same waterings as ever, read higher by so much a day."""
    return plus(WORKS, lambda hours: per_day * np.maximum(hours / 24 + since_days, 0.0))


def unwatered(at_h: float, per_h: float = 7.0) -> Course:
    """Works until `at_h` (a multiple of 3.5 h, when it has just been watered to 88), then dries and goes on drying."""
    return lambda hours: np.where(hours < at_h, WORKS(hours), 88 + per_h * (hours - at_h))


PAST_THE_LIMIT = steps((-80, 100), (-30, 195), (0, 195))


def test_a_pot_watered_deep_after_a_drought_is_no_slow_drift() -> None:
    """Cut off for a day and a half, open again since eight hours: the days still rise, the pot is well."""
    drought = lambda hours: np.where(hours < -44, WORKS(hours), 88 + 2.5 * (hours + 44))  # noqa: E731
    course = lambda hours: np.where(hours < -8, drought(hours), WORKS(hours) - 8)  # noqa: E731
    made = told(course)
    assert made.found(KIND, as_of=NOW - timedelta(hours=10))
    assert all(made.found(KIND, as_of=NOW - timedelta(hours=h)) == [] for h in range(7))


def test_a_cup_that_was_in_the_air_an_hour_ago_tells_nothing_yet() -> None:
    """It leaps by 90 mbar and comes back to 30 above what the pot was, as in a drier pot."""
    moved = lambda hours: WORKS(hours) + np.where(hours < -1.0, 0.0, 30 + 60 * np.exp(-np.maximum(hours + 1, 0) / 0.3))  # noqa: E731
    judged = told(moved).judge(KIND)
    assert judged.findings == ()
    assert (KIND, POT.id) in judged.lasting
    assert (KIND, POT.id) not in told(WORKS).judge(KIND).lasting


def test_a_probe_put_into_a_drier_pot_is_no_fast_drying_for_a_day() -> None:
    """It leaps by 90 mbar, and within the hour shows waterings 25 mbar above those of the pot it was in before."""
    leap = lambda hours: np.where(hours < -8.0, 0.0, 25 + 65 * np.exp(-np.maximum(hours + 8, 0) / 0.3))  # noqa: E731
    made = told(plus(WORKS, leap), later_h=14.0)
    assert not any(made.found(KIND, as_of=NOW + timedelta(hours=h)) for h in range(-3, 15))


@pytest.mark.parametrize(("at_once", "per_day", "found"), [(24.0, 0.0, []), (0.0, 12.0, ["Pot 0"])])
def test_a_probe_put_into_a_drier_pot_is_no_slow_drift_either(at_once: float, per_day: float, found: list[str]) -> None:
    """Watered by a can six days ago and dry again since four, so that the days rise; then moved, or drifting."""
    can = lambda hours: np.where(hours < -150, 0.0, np.interp(hours, [-150, -90], [-45.0, 0.0]))  # noqa: E731
    higher = lambda hours: np.where(hours < -62, 0.0, at_once + per_day * (hours + 62) / 24)  # noqa: E731
    made = told(plus(WORKS, can, higher))
    assert [names(made.found(KIND, as_of=NOW - timedelta(hours=h))) for h in (0, 1, 2)] == [found] * 3


def test_a_pot_that_comes_back_from_a_can_has_not_risen_from_there() -> None:
    """Wet for three days, and 20 mbar above what it was the week before since: that much is no drift yet."""
    back = lambda hours: np.where(hours < -150, 0.0, np.interp(hours, [-150, -70, -40, 0], [-60.0, 0.0, 16.0, 20.0]))  # noqa: E731
    made = told(plus(WORKS, back))
    assert not any(made.found(KIND, as_of=NOW - timedelta(hours=h)) for h in range(0, 24, 3))


def test_a_drought_that_ended_the_day_before_yesterday_is_no_slow_drift() -> None:
    """Cut off for four days and watered deep forty hours ago; its waterings since begin 14 mbar above usual."""
    drought = lambda hours: np.where(hours < -130, WORKS(hours), 88 + 2.0 * (hours + 130))  # noqa: E731
    made = told(lambda hours: np.where(hours < -40, drought(hours), WORKS(hours) + 14))
    assert made.found(KIND, as_of=NOW - timedelta(hours=42))
    assert not any(made.found(KIND, as_of=NOW - timedelta(hours=h)) for h in range(0, 30, 2))


def test_a_container_that_swings_as_ever_is_not_drying() -> None:
    assert told(WORKS).found(KIND) == []


def test_a_creeping_set_point_is_found_with_its_slope_and_interval() -> None:
    (found,) = told(rising(8, since_days=7)).found(KIND)
    evidence = found.evidence
    assert evidence["slope_mbar_per_day"] == pytest.approx(8, abs=1.3)
    assert evidence["slope_low_mbar_per_day"] <= evidence["slope_mbar_per_day"] <= evidence["slope_high_mbar_per_day"]  # type: ignore[operator]
    assert evidence["confidence"] >= 0.95  # type: ignore[operator]
    assert evidence["dry_limit_mbar"] == 180.0
    low, hours, high = (evidence[f"hours_to_dry_limit{end}"] for end in ("_low", "", "_high"))
    # Some three days off at its slope, sooner as media dry; the interval holds both.
    assert 12 < low < hours < 96 < high < 240  # type: ignore[operator]
    assert found.harm_at is not None
    assert timedelta(days=6) <= NOW - found.since <= timedelta(days=8)


def test_a_probe_that_creeps_by_itself_is_no_drying() -> None:
    """From 52 to 150 mbar its waterings are the same."""
    made = told(plus(creeping(14, since_days=7), steady(-53.0)))
    assert made.found(KIND) == []
    (found,) = made.found("probe-fault")
    assert "medium does not get drier" in str(found.evidence["fault"])
    assert told(rising(8, since_days=7)).found("probe-fault") == []


@pytest.mark.parametrize(("dry", "found"), [(1, ["Pot 0"]), (2, [])])
def test_a_probe_is_not_said_to_creep_while_others_of_its_line_dry(dry: int, found: list[str]) -> None:
    """Of five pots on its line one stands 30 mbar above where it is usually watered, or two do."""
    made = Told(facility(room(pots=6)), days=14.0, interval_s=300.0)
    made.tension(0, plus(creeping(14, since_days=7), steady(-53.0)))
    for pot in range(1, 6):
        made.tension(pot, unwatered(-7) if pot <= dry else WORKS)
    assert names(made.found("probe-fault")) == found


def test_a_drift_that_was_put_right_yesterday_does_not_go_on() -> None:
    course = rising(8, since_days=9)
    put_right = lambda hours: np.where(hours < -20.0, course(hours), WORKS(hours))  # noqa: E731
    made = told(put_right, days=14.0)
    assert made.found(KIND, as_of=NOW - timedelta(hours=24))
    assert made.found(KIND) == []


def test_a_new_plant_in_a_pot_that_slept_is_no_drying() -> None:
    """Its emitter has not had to open for weeks; now it works, some mbar above the set point as emitters do."""
    sleeps = steady(70.0, 0.3, 5)
    assert told(lambda hours: np.where(hours < -18.0, sleeps(hours), sawtooth(95, 114)(hours))).found(KIND) == []


def test_the_same_creep_with_the_limit_far_and_little_risen_is_not_called_yet() -> None:
    assert told(rising(3.5, since_days=5)).found(KIND) == []


def test_a_creep_with_the_limit_far_is_called_once_it_has_risen_by_most_of_what_is_far_above_a_usual_day() -> None:
    """27 mbar in six days of 30 that are far at once; nine days yet to its dry limit."""
    assert names(told(rising(6, since_days=6)).found(KIND)) == ["Pot 0"]


def test_a_slope_below_the_rule_is_not_called() -> None:
    gentle = replace(PLACE.rooms[0], containers=(replace(POT, rules=Rules(drift_mbar_per_day=12)),))
    made = Told(facility(gentle), days=12.0, interval_s=300.0).tension(0, rising(8, since_days=7))
    assert made.found(KIND) == []


def test_one_gross_outlying_day_is_no_drift() -> None:
    course = plus(WORKS, lambda hours: np.where((hours > -40) & (hours < -16), 40.0, 0.0))
    assert told(course).found(KIND) == []


def test_coming_back_from_being_wet_is_no_drift() -> None:
    """Watered by hand a week ago: it has risen by 8 mbar a day, and is only now where it belongs."""
    course = plus(steps((-170, 100), (-168, 40), (0, 98)), steady(0, 0.5, 2))
    assert told(course).found(KIND) == []


def test_a_container_whose_emitter_does_not_open_is_found_hours_before_its_limit() -> None:
    (found,) = told(unwatered(-7.0)).found(KIND)
    assert found.evidence["above_usual_mbar"] > 30  # type: ignore[operator]
    assert found.evidence["rise_mbar_per_h"] == pytest.approx(7.0, abs=0.3)
    assert found.evidence["hours_to_dry_limit_low"] <= (180 - 137) / 7 <= found.evidence["hours_to_dry_limit_high"]  # type: ignore[operator]
    assert "slope_mbar_per_day" not in found.evidence
    assert timedelta(hours=1) <= NOW - found.since <= timedelta(hours=7)


@pytest.mark.parametrize("interval_s", [10, 60, 600])
def test_it_is_found_at_any_interval(interval_s: float) -> None:
    days = {10: 5.0, 60: 6.0, 600: 8.0}[int(interval_s)]
    assert names(told(unwatered(-7.0), interval_s=interval_s, days=days).found(KIND)) == ["Pot 0"]


def test_an_emitter_that_opens_later_but_again_and_again_is_days_from_the_limit_and_not_hours() -> None:
    """Its point has moved up, and it waters from there ever since, further as the medium is drier."""

    def moved(hours):
        share = np.clip((hours + 40) / 10, 0.0, 1.0)
        return (1 - share) * WORKS(hours) + share * sawtooth(108, 142)(hours)

    made = told(moved, later_h=12.0)
    found = [each for h in range(0, 13, 2) for each in made.found(KIND, as_of=NOW + timedelta(hours=h))]
    assert found
    assert all(each.evidence["hours_to_dry_limit"] > 24 for each in found)  # type: ignore[operator]


def test_a_pot_that_was_watered_well_after_a_drought_does_not_drift() -> None:
    """Days get drier until it stands past its limit; then water comes, more than usual."""
    course = rising(8, since_days=9)
    made = told(lambda hours: np.where(hours < -4.0, course(hours), 60.0 + hours), days=14.0)
    assert made.found(KIND, as_of=NOW - timedelta(hours=6))
    assert made.found(KIND) == []


def test_a_usual_rise_between_waterings_is_not_found_however_late_in_it() -> None:
    made = told(plus(sawtooth(70, 125, dries_h=10), steady(0, 0.3, 1)), later_h=11.0)
    assert not any(made.found(KIND, as_of=NOW + timedelta(hours=h)) for h in range(11))


def test_it_goes_on_being_found_through_a_night_without_rise() -> None:
    course: Course = lambda hours: np.where(  # noqa: E731
        hours < -7, WORKS(hours), np.where(hours < 0, 88 + 7 * (hours + 7), 137 - hours)
    )
    made = told(course, later_h=9.0)
    assert all(made.found(KIND, as_of=NOW + timedelta(hours=h)) for h in range(0, 10, 2))


def test_it_ends_when_the_container_is_watered_again() -> None:
    course: Course = lambda hours: np.where(hours < 1, unwatered(-7.0)(hours), 92.0)  # noqa: E731
    made = told(course, later_h=3.0)
    assert made.found(KIND)
    assert made.found(KIND, as_of=NOW + timedelta(hours=2)) == []


def test_past_the_dry_limit_for_hours_is_found_and_harm_has_come() -> None:
    (found,) = told(PAST_THE_LIMIT).found(KIND)
    assert found.evidence["tension_mbar"] == 195.0
    assert found.evidence["hours_to_dry_limit"] in (0.0, None)
    assert found.harm_at is None


def test_past_the_dry_limit_for_a_moment_is_not() -> None:
    assert told(lambda hours: np.where(hours > -0.5, 185.0, WORKS(hours))).found(KIND) == []


def test_a_climb_that_no_plant_can_drink_is_the_probes() -> None:
    """Air entry: 300 mbar in three hours."""
    assert told(lambda hours: np.where(hours < -3, WORKS(hours), 100 + 100 * (hours + 3))).found(KIND) == []


def test_a_container_just_worked_on_settles_and_is_judged_after() -> None:
    made = told(unwatered(-7.0))
    assert made.found(KIND, [worked("re-set-emitter", POT, hours_ago=3)]) == []
    assert names(made.found(KIND, [worked("checked", POT, hours_ago=3)])) == ["Pot 0"]


def test_what_was_before_a_reset_is_no_history() -> None:
    course = plus(WORKS, lambda hours: np.where(hours < -24 * 6, -45.0, 0.0))
    made = told(course)
    assert made.found(KIND, [worked("re-set-emitter", POT, hours_ago=24 * 6)]) == []


def test_the_line_the_reservoir_and_the_probe_may_explain_it() -> None:
    (found,) = told(unwatered(-7.0)).found(KIND)
    kinds = [kind for kind, _ in found.explained_by]
    assert kinds[:3] == ["reservoir-empty", "supply-interrupted", "probe-fault"]
    assert dict(found.explained_by)["supply-interrupted"] == PLACE.rooms[0].lines[0].id


def test_gaps_in_the_readings_do_not_hide_a_drift() -> None:
    made = Told(PLACE, days=12.0, interval_s=300.0)
    holes = (-150.0, -140.0, -100.0, -80.0, -30.0, -22.0)
    assert names(made.tension(0, rising(8, since_days=7), holes=holes).found(KIND)) == ["Pot 0"]


@pytest.mark.parametrize("shift", [-40.0, 60.0])
def test_the_same_drying_at_another_level_is_found_alike(shift: float) -> None:
    def at(mbar: float) -> list[float | None]:
        rules = Rules(set_point_mbar=100 + mbar, wet_limit_mbar=60 + mbar, dry_limit_mbar=180 + mbar)
        made = Told(facility(room(rules=rules)), days=12.0, interval_s=300.0)
        made.tension(0, plus(unwatered(-7), steady(mbar))).tension(1, plus(PAST_THE_LIMIT, steady(mbar)))
        keys = ("hours_to_dry_limit", "above_usual_mbar", "rise_mbar_per_h")
        return [found.evidence[key] for found in made.found(KIND) for key in keys]  # type: ignore[misc]

    assert len(at(0.0)) == 6
    assert at(shift) == pytest.approx(at(0.0), abs=0.15, nan_ok=True)


def test_the_day_of_a_clock_change_is_a_day_like_any_other() -> None:
    """Oslo sets its clocks back on 25 October 2026; lights follow them and so do the swings."""
    after = NOW.replace(month=10, day=26)
    place = facility(room())

    def by_the_clock(hours):
        at = hours + (after - NOW).total_seconds() / 3600
        change = (NOW.replace(month=10, day=25, hour=1) - NOW).total_seconds() / 3600
        local = hours + np.where(hours < change, 2.0, 1.0)
        return 95 + 8 * np.sin(2 * np.pi * local / 24) + 0 * at

    start = (after - NOW).total_seconds() / 3600
    made = Told(place, days=-start / 24 + 12, interval_s=600.0).tension(0, by_the_clock)
    assert made.found(KIND, as_of=after) == []


def test_containers_are_judged_alike_alone_and_among_thousands_of_others() -> None:
    courses = [WORKS, rising(8, 7), unwatered(-7.0), PAST_THE_LIMIT]
    many = facility(room(pots=40))
    made = Told(many, days=12.0, interval_s=600.0)
    for pot in range(40):
        made.tension(pot, courses[pot % 4])
    together = {found.subject.id: dict(found.evidence) for found in made.found(KIND)}
    assert len(together) == 30
    for pot in (1, 2, 3):
        container = many.rooms[0].containers[pot]
        alone = facility(replace(many.rooms[0], containers=(container,)))
        (found,) = Told(alone, days=12.0, interval_s=600.0).tension(0, courses[pot]).found(KIND)
        assert dict(found.evidence) == together[container.id]
