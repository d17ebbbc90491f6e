"""supply-interrupted and reservoir-leak: where the water does not come, and where it goes."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest

from tests.unit.detect.builders import (
    LITRES_PER_MM,
    NOW,
    Course,
    Told,
    drawn,
    facility,
    names,
    plus,
    room,
    sawtooth,
    steady,
    steps,
    watered,
)
from wickwatch.detect import Finding

CUT, LEAK = "supply-interrupted", "reservoir-leak"
POTS = 6
PLACE = facility(room(pots=POTS))
USUAL = plus(drawn(300, by_day=6, by_night=1), steady(0, 0.5, 5))
USUAL_BY_DAY_L_PER_H = 6 * LITRES_PER_MM


def works(seed: int) -> Course:
    """Swings between 88 and 105, each pot at its own time."""
    phase = 0.6 * seed
    return plus(lambda hours: sawtooth(88, 105)(hours + phase), steady(0, 0.3, seed))


def cut_off(at_h: float, seed: int) -> Course:
    """Works until the line is cut, then goes on drying by 6 mbar an hour."""
    start = float(sawtooth(88, 105)(np.array([at_h + 0.6 * seed]))[0])
    return lambda hours: np.where(hours < at_h, works(seed)(hours), start + 6 * (hours - at_h))


def told(cut: int, at_h: float = -5.0, level: Course = USUAL, later_h: float = 0.0) -> Told:
    """The first pots cut off, the others working."""
    made = Told(PLACE, interval_s=300.0, days=6.0, later_h=later_h)
    for pot in range(POTS):
        made.tension(pot, cut_off(at_h, pot) if pot < cut else works(pot))
    return made.level(0, level)


def stopped(at_h: float) -> Course:
    """The usual draw until `at_h`, none after."""
    return lambda hours: USUAL(np.minimum(hours, at_h))


def test_a_line_whose_pots_dry_together_is_found_with_their_number() -> None:
    (found,) = told(POTS, level=stopped(-5.0)).found(CUT)
    assert (found.subject.type, found.subject.name) == ("line", "Line 0")
    assert found.evidence["containers"] == POTS
    assert timedelta(hours=0) <= NOW - found.since <= timedelta(hours=5)
    assert found.explained_by == (("reservoir-empty", PLACE.rooms[0].reservoirs[0].id),)


def test_it_is_found_within_six_hours_of_light() -> None:
    made = told(POTS, at_h=0.0, level=stopped(0.0), later_h=6.0)
    assert made.found(CUT) == []
    assert made.found(CUT, as_of=NOW + timedelta(hours=6))


def test_an_air_lock_that_starves_half_the_line_is_found() -> None:
    half = plus(stopped(-5.0), lambda hours: -3.0 * np.maximum(hours + 5.0, 0.0))
    assert names(told(POTS // 2 + 1, level=half).found(CUT)) == ["Line 0"]


def cut_off_while_wet(at_h: float, pot: int) -> Course:
    """Works until the line is cut, watered just then, and dries by no more than 0.5 mbar an hour."""
    return lambda hours: np.where(hours < at_h, works(pot)(hours), 85 + 0.5 * (hours - at_h))


def two_dry_on(wet: int) -> Told:
    """Two pots ten hours behind an air lock, so many others there too but not dry yet; the reservoir gives the rest."""
    made = Told(PLACE, interval_s=300.0, days=6.0)
    for pot in range(POTS):
        course = cut_off(-10.0, pot) if pot < 2 else cut_off_while_wet(-10.0, pot) if pot < 2 + wet else works(pot)
        made.tension(pot, course)
    missing = 6.0 * (2 + wet) / POTS
    return made.level(0, lambda hours: USUAL(hours) + missing * np.maximum(hours + 10.0, 0.0))


def test_two_pots_far_from_usual_are_a_line_where_half_of_it_had_no_water_since() -> None:
    assert names(two_dry_on(wet=1).found(CUT)) == ["Line 0"]
    assert told(2, at_h=-10.0, level=USUAL).found(CUT) == []


def test_two_pots_that_dry_on_while_most_of_their_line_is_watered_are_no_line() -> None:
    assert two_dry_on(wet=0).found(CUT) == []


@pytest.mark.parametrize(
    ("cut", "of", "found"), [(3, 9, True), (3, 13, False), (2, 9, False), (2, 5, True), (1, 3, False)]
)
def test_pots_far_from_usual_that_left_it_together_are_behind_an_air_lock_while_the_rest_is_watered(
    cut: int, of: int, found: bool
) -> None:
    made = Told(facility(room(pots=of)), interval_s=300.0, days=6.0)
    for pot in range(of):
        made.tension(pot, cut_off(-9.0, pot) if pot < cut else works(pot))
    missing = lambda hours: cut / of * (USUAL(np.minimum(hours, -9.0)) - USUAL(hours))  # noqa: E731
    assert bool(made.level(0, plus(USUAL, missing)).found(CUT)) == found


def test_two_dry_pots_are_no_line_in_the_dark_where_none_of_the_others_is_due() -> None:
    """As two of six with one more that had no water: by day that is half of the line, lit for an hour it is not yet."""
    by_day = two_dry_on(wet=1)
    assert by_day.found(CUT)
    night = facility(room(pots=POTS, lights=(12, 20)))  # lit for an hour now
    dark = Told(night, by_day.interval_s, by_day.days, by_day.later_h, by_day._courses)
    assert dark.found(CUT) == []


def test_pots_watered_by_hand_leave_it_unknown_whether_their_line_is_still_cut_off() -> None:
    line = PLACE.rooms[0].lines[0].id

    def later(level: Course) -> bool:
        made = Told(PLACE, interval_s=300.0, days=6.0, later_h=6.0)
        for pot in range(POTS):
            made.tension(pot, watered(0.5, 160, 45, minutes=30, before=cut_off(-12.0, pot)))
        judged = made.level(0, level).judge(CUT, as_of=NOW + timedelta(hours=6))
        assert judged.findings == ()
        return (CUT, line) in judged.unknown

    assert later(stopped(-12.0))
    # Open again, the line gives all that its pots lacked within an hour.
    opened = plus(stopped(-12.0), lambda hours: -40.0 * np.clip(hours - 0.5, 0.0, 1.0))
    assert not later(opened)


def test_a_line_most_of_whose_probes_are_silent_is_unknown() -> None:
    made = told(POTS, level=stopped(-5.0))
    silent = made.judge(CUT, as_of=NOW + timedelta(hours=4))
    assert (CUT, PLACE.rooms[0].lines[0].id) in silent.unknown
    assert (CUT, PLACE.rooms[0].lines[0].id) not in told(0).judge(CUT).unknown


def test_pots_that_still_stand_high_leave_it_unknown_whether_their_line_is_open_again() -> None:
    line = (CUT, PLACE.rooms[0].lines[0].id)
    evening = NOW + timedelta(hours=7)  # 20:00 in Oslo, lights went off at 18:00
    assert line in told(POTS, level=stopped(-5.0), later_h=8.0).judge(CUT, as_of=evening).unknown
    assert line not in told(0, later_h=8.0).judge(CUT, as_of=evening).unknown
    # Pruned, they dry as slowly as if their emitters watered them, and tell nothing of their line by day either.
    made = Told(PLACE, interval_s=300.0, days=6.0)
    for pot in range(POTS):
        made.tension(pot, lambda hours, pot=pot: np.where(hours < -9.0, works(pot)(hours), 104 + 1.5 * (hours + 9.0)))
    judged = made.level(0, stopped(-9.0)).judge(CUT)
    assert (judged.findings, line in judged.unknown) == ((), True)


def test_one_pot_that_dries_is_no_line() -> None:
    assert told(1).found(CUT) == []


def test_pots_that_dry_while_the_reservoir_gives_as_usual_are_no_line() -> None:
    assert told(POTS, level=USUAL).found(CUT) == []


def test_a_reservoir_run_dry_is_no_line() -> None:
    assert told(POTS, level=steady(60)).found(CUT) == []


def test_without_a_level_pots_that_dry_together_are_found_all_the_same() -> None:
    bare = replace(PLACE.rooms[0], reservoirs=(replace(PLACE.rooms[0].reservoirs[0], level=None),))
    place = facility(bare)
    made = Told(place, interval_s=300.0, days=6.0)
    for pot in range(POTS):
        made.tension(pot, cut_off(-5.0, pot))
    assert names(made.found(CUT)) == ["Line 0"]


def test_it_ends_when_the_pots_have_been_watered() -> None:
    made = Told(PLACE, interval_s=300.0, days=6.0, later_h=3.0)
    for pot in range(POTS):
        made.tension(pot, watered(0.5, 120, 85, minutes=30, before=cut_off(-5.0, pot)))
    made.level(0, stopped(-5.0))
    assert made.found(CUT)
    assert made.found(CUT, as_of=NOW + timedelta(hours=3)) == []


def leaking(l_per_h: float, since_h: float) -> Told:
    more = plus(USUAL, lambda hours: -l_per_h / LITRES_PER_MM * np.maximum(hours - since_h, 0.0))
    made = Told(PLACE, interval_s=300.0, days=6.0, later_h=12.0)
    for pot in range(POTS):
        made.tension(pot, works(pot))
    return made.level(0, plus(more, steady(150)))


def test_what_is_less_than_four_drops_a_second_is_no_leak() -> None:
    assert leaking(0.6, since_h=0.0).found(LEAK, as_of=NOW + timedelta(hours=9)) == []


@pytest.mark.parametrize("l_per_h", [1.5, 4.0])
def test_water_that_leaves_hour_after_hour_is_a_leak_with_its_rate(l_per_h: float) -> None:
    (found,) = leaking(l_per_h, since_h=0.0).found(LEAK, as_of=NOW + timedelta(hours=9))
    assert found.evidence["leak_l_per_h"] == pytest.approx(l_per_h, rel=0.2)
    assert found.evidence["hours_to_empty"] is not None
    assert found.harm_at is not None


def test_a_leak_far_beyond_chance_is_told_with_its_rate_after_half_the_hours_and_stays_told() -> None:
    made = leaking(4.0, since_h=0.0)
    (found,) = made.found(LEAK, as_of=NOW + timedelta(hours=5))
    assert found.evidence["leak_l_per_h"] == pytest.approx(4.0, rel=0.2)
    assert NOW - timedelta(hours=1) <= found.since <= NOW + timedelta(hours=1)
    assert all(made.found(LEAK, as_of=NOW + timedelta(hours=h)) for h in range(6, 12))


@pytest.mark.parametrize(
    ("by_day", "leak"),
    [
        pytest.param((1.0, 1.1, 0.9, 1.0, 1.1, 0.9), True, id="days are alike"),
        pytest.param((0.1, 1.1, 1.6, 0.9, 1.3, 1.2), True, id="somebody watered them all by hand, once"),
        pytest.param((2.5, 0.3, 1.0, 2.8, 0.2, 1.0), False, id="a line was cut off and caught up, twice"),
    ],
)
def test_where_no_day_is_like_another_no_leak_is_told_nor_its_end(by_day: tuple[float, ...], leak: bool) -> None:
    """What left on each of six days, as a share of 20 mm, and 5 l/h more in the last eight hours."""
    at = np.arange(-len(by_day), 1) * 24.0
    gone = np.concatenate([[0.0], np.cumsum(by_day)]) * 20.0
    leaks = lambda hours: -5.0 / LITRES_PER_MM * np.maximum(hours + 8.0, 0.0)  # noqa: E731
    made = Told(PLACE, interval_s=300.0, days=6.0)
    made.level(0, plus(lambda hours: 800.0 - np.interp(hours, at, gone), leaks, steady(0, 0.5, 5)))
    judged = made.judge(LEAK)
    assert bool(judged.findings) == leak
    assert ((LEAK, PLACE.rooms[0].reservoirs[0].id) in judged.lasting) is not leak


@pytest.mark.parametrize(("pause_l_per_h", "goes_on"), [(1.0, True), (0.0, False)])
def test_a_leak_that_ended_and_comes_again_has_to_be_seen_again(pause_l_per_h: float, goes_on: bool) -> None:
    """Much left for eight hours; since then little or nothing, but for the last hour, in which it is more again."""
    made = Told(PLACE, interval_s=300.0, days=6.0)
    rates = steps((-21, 0), (-20.9, 5), (-12, 5), (-11.9, pause_l_per_h), (-1.1, pause_l_per_h), (-1, 4))
    grid = np.arange(-144.0, 0.1, 1 / 12)
    gone = np.cumsum(rates(grid)) / 12 / LITRES_PER_MM
    made.level(0, plus(USUAL, lambda hours: -np.interp(hours, grid, gone)))
    assert bool(made.found(LEAK)) == goes_on


@pytest.mark.parametrize(
    ("since_h", "until_h", "lasts"),
    [(-80.0, 0.0, True), (-80.0, -30.0, False), (0.0, 0.0, False)],
    ids=["runs", "mended yesterday", "none"],
)
def test_a_leak_that_has_become_usual_is_not_over(since_h: float, until_h: float, lasts: bool) -> None:
    made = Told(PLACE, interval_s=300.0, days=12.0)
    leaked = lambda hours: -1.0 / LITRES_PER_MM * np.clip(hours - since_h, 0.0, until_h - since_h)  # noqa: E731
    made.level(0, plus(drawn(550, by_day=2, by_night=0.2), steady(0, 0.5, 5), leaked))
    assert ((LEAK, PLACE.rooms[0].reservoirs[0].id) in made.judge(LEAK).lasting) == lasts


def test_a_refill_hides_no_leak_that_ran_before_it_and_after() -> None:
    made = Told(PLACE, interval_s=300.0, days=6.0, later_h=12.0)
    leaks = lambda hours: -4.0 / LITRES_PER_MM * np.maximum(hours, 0.0)  # noqa: E731
    made.level(0, plus(USUAL, leaks, lambda hours: np.where(hours > 3.0, 200.0, 0.0), steady(100)))
    (found,) = made.found(LEAK, as_of=NOW + timedelta(hours=6.5))
    assert found.evidence["leak_l_per_h"] == pytest.approx(4.0, rel=0.25)


def walked_round(l_per_h: float) -> Told:
    """Somebody poured on every pot of the room at noon yesterday, and none asks for water until tomorrow."""
    made = Told(PLACE, interval_s=300.0, days=6.0, later_h=9.0)
    for pot in range(POTS):
        made.tension(pot, watered(-24.0, 100, 40, minutes=6, before=works(pot)))
    stopped_at = lambda hours: USUAL(np.minimum(hours, -24.0))  # noqa: E731
    return made.level(0, plus(stopped_at, lambda hours: -l_per_h / LITRES_PER_MM * np.maximum(hours, 0.0)))


def test_a_leak_is_seen_while_the_pots_are_wet_and_none_of_them_draws() -> None:
    """As much as they usually drink by day, so that nothing but their tension tells."""
    leaks = walked_round(USUAL_BY_DAY_L_PER_H)
    assert leaks.found(LEAK, as_of=NOW + timedelta(hours=6))
    assert walked_round(0.0).found(LEAK, as_of=NOW + timedelta(hours=6)) == []


def test_a_room_that_drinks_again_after_wet_days_does_not_leak() -> None:
    """Nothing was drawn while it was wet for six days; that it draws as it used to is not more than usual."""
    made = Told(PLACE, interval_s=300.0, days=14.0, later_h=9.0)
    wet = steps((-150.0, 40.0), (-6.0, 75.0), (0.0, 95.0))
    for pot in range(POTS):
        made.tension(
            pot, lambda hours, pot=pot: np.where((hours < -150.0) | (hours > 0.0), works(pot)(hours), wet(hours))
        )
    made.level(0, lambda hours: USUAL(np.minimum(hours, -150.0)) + np.minimum(USUAL(hours) - USUAL(np.zeros(1)), 0.0))
    assert not any(made.found(LEAK, as_of=NOW + timedelta(hours=h)) for h in np.arange(4.0, 9.0, 0.5))


def test_the_usual_draw_is_no_leak() -> None:
    made = leaking(0.0, since_h=0.0)
    assert not any(made.found(LEAK, as_of=NOW + timedelta(hours=h)) for h in range(0, 12, 2))


def test_a_warm_afternoon_is_no_leak() -> None:
    """Half as much again for four hours of light, then as ever."""
    warm = plus(USUAL, lambda hours: -3.0 * np.clip(hours + 3.0, 0.0, 4.0))
    made = Told(PLACE, interval_s=300.0, days=6.0, later_h=8.0).level(0, plus(warm, steady(100)))
    assert not any(made.found(LEAK, as_of=NOW + timedelta(hours=h)) for h in range(9))


def test_plants_that_grow_by_the_day_do_not_leak() -> None:
    """Six per cent more each day for two weeks: twice as much as the days' median, and no more than yesterday's."""

    def grown(hours: np.ndarray) -> np.ndarray:
        grid = np.arange(-24.0 * 15, 13.0, 0.25)
        rate = (4.0 + 2.0 * (np.mod(13.0 + grid, 24.0) < 18)) * 1.06 ** (grid / 24.0)
        return 500.0 - np.interp(hours, grid, np.cumsum(rate) * 0.25) + np.cumsum(rate)[-1] * 0.25

    made = Told(PLACE, interval_s=300.0, days=14.0, later_h=12.0)
    made.level(0, lambda hours: np.mod(grown(hours) - 80.0, 500.0) + 80.0)  # filled whenever it is nearly empty
    assert not any(made.found(LEAK, as_of=NOW + timedelta(hours=h)) for h in range(0, 12, 2))


def test_a_hot_day_is_no_leak_where_the_air_is_measured() -> None:
    """Nine hours at 34 degC instead of 25: plants want about half as much again for as long."""
    place = facility(room(pots=0, air=True))
    hot = lambda hours: (hours > -9.0) & (hours <= 0.0)  # noqa: E731
    drier = plus(USUAL, lambda hours: -4.0 * np.clip(hours + 9.0, 0.0, 9.0), steady(150))

    def leaks(degc: Course) -> bool:
        made = Told(place, interval_s=300.0, days=8.0).level(0, drier).air(degc, steady(55.0))
        return bool(made.found(LEAK))

    assert not leaks(lambda hours: np.where(hot(hours), 34.0, 25.0))
    assert leaks(steady(25.0))


def test_lights_that_burn_longer_are_no_leak_where_the_air_is_measured() -> None:
    """On from 16:00 to 06:00 as never before, six millimetres an hour as by day."""
    place = facility(room(pots=0, lights=(6, 16), air=True))
    usual = plus(drawn(450, by_day=6, by_night=1, lights=(6, 16)), steady(0, 0.5, 5))
    longer = plus(usual, lambda hours: -5.0 * np.clip(hours - 3.0, 0.0, 14.0))  # 16:00 there is three hours ahead
    by_plan = lambda hours: np.mod(13.0 + hours - 6.0, 24.0) < 10.0  # noqa: E731

    def leaks(lit) -> bool:
        made = Told(place, interval_s=300.0, days=8.0, later_h=16.0).level(0, longer)
        made.air(lambda hours: np.where(lit(hours), 25.0, 20.0), lambda hours: np.where(lit(hours), 60.0, 65.0))
        return any(made.found(LEAK, as_of=NOW + timedelta(hours=h)) for h in (12, 14, 16))

    assert leaks(by_plan)  # dark and cool, and yet so much leaves
    assert not leaks(lambda hours: by_plan(hours) | (hours > 3.0))


def test_days_without_water_do_not_make_the_days_after_them_a_leak() -> None:
    """A valve was shut for two of the last five days; since it opened the usual draw is back."""

    def opened(hours):
        shut = np.clip(hours + 84.0, 0.0, 48.0)  # from 84 to 36 hours ago
        missed = USUAL(np.full_like(hours, -84.0)) - USUAL(-84.0 + shut)
        return USUAL(hours) + np.where(hours > -84.0, missed, 0.0)

    made = Told(PLACE, interval_s=300.0, days=7.0, later_h=12.0).level(0, plus(opened, steady(150)))
    assert not any(made.found(LEAK, as_of=NOW + timedelta(hours=h)) for h in range(-20, 12, 4))


def test_pots_that_left_their_range_days_apart_are_no_line() -> None:
    """One drifts by itself since three days, another dries since this morning: not the same water."""
    place = facility(room(pots=4))
    made = Told(place, interval_s=300.0, days=8.0)
    made.tension(0, lambda hours: works(0)(hours) + 14.0 * np.clip(hours / 24 + 3.5, 0.0, None))
    made.tension(1, cut_off(-9.0, 1)).tension(2, works(2)).tension(3, works(3))
    made.level(0, stopped(-9.0))
    assert made.found(CUT) == []


def test_a_level_sensor_that_comes_loose_after_days_is_no_leak() -> None:
    """It stood still for five days, in which nothing seemed to leave; since ten hours it tells the usual draw again."""
    noisy = plus(drawn(200, by_day=4, by_night=1), steady(0, 0.5, 5))
    stood = lambda hours: np.where((hours > -130.0) & (hours < -10.0), 550.0, noisy(hours))  # noqa: E731
    made = Told(PLACE, interval_s=300.0, days=10.0).level(0, stood)
    assert not any(made.found(LEAK, as_of=NOW - timedelta(hours=h)) for h in range(0, 9, 2))


def test_an_emitter_stuck_open_explains_what_leaves() -> None:
    made = leaking(4.0, since_h=0.0)
    place = PLACE.rooms[0]
    made.channel(place.containers[0].tension.id, steady(20))  # type: ignore[union-attr]
    (found,) = made.found(LEAK, as_of=NOW + timedelta(hours=9))
    assert ("sudden-wetting", place.containers[0].id) in found.explained_by


def test_a_refill_is_no_leak_and_no_gain() -> None:
    def refilled(hours):
        return USUAL(hours) + np.where(hours > -1.0, 300.0, 0.0)

    assert Told(PLACE, interval_s=300.0, days=6.0).level(0, refilled).found(LEAK) == []


def short_line(cut: int, level: Course | None) -> list[Finding]:
    """A line of four pots, some cut off since five hours."""
    place = facility(room(pots=4))
    made = Told(place, interval_s=300.0, days=6.0)
    for pot in range(4):
        made.tension(pot, cut_off(-5.0, pot) if pot < cut else works(pot))
    return (made if level is None else made.level(0, level)).found(CUT)


def test_on_a_short_line_two_pots_that_dry_are_chance_unless_the_draw_has_stopped() -> None:
    assert short_line(2, None) == []
    assert names(short_line(3, None)) == ["Line 0"]
    assert names(short_line(2, stopped(-5.0))) == ["Line 0"]


def test_pots_whose_emitters_drift_stand_high_at_each_watering_and_tell_nothing_of_their_line() -> None:
    place = facility(room(pots=POTS))
    made = Told(place, interval_s=300.0, days=8.0)
    for pot in range(POTS):
        drifts = plus(works(pot), lambda hours: 14.0 * np.clip(hours / 24 + 2.0, 0.0, None))
        made.tension(pot, drifts if pot < POTS - 2 else works(pot))
    made.level(0, stopped(-9.0))
    assert made.found(CUT) == []


def dries_on(seed: int, since_h: float, per_h: float) -> Course:
    """Works until it stands where it is usually watered, then rises on by `per_h` without ever falling."""
    return plus(
        lambda hours: np.where(hours < since_h, sawtooth(88, 105)(hours + 0.6 * seed), 105 + per_h * (hours - since_h)),
        steady(0, 0.3, seed),
    )


@pytest.mark.parametrize(("per_h", "cut"), [(1.2, False), (3.2, False), (5.0, True)])
def test_a_pot_without_water_dries_as_fast_as_usual_and_one_that_creeps_while_it_is_watered_does_not(
    per_h: float, cut: bool
) -> None:
    place = facility(room(pots=4))
    made = Told(place, interval_s=300.0, days=9.0)
    for pot in range(4):
        made.tension(pot, dries_on(pot, -22.0 if pot else -23.0, per_h) if pot < 2 else works(pot))
    made.level(0, stopped(-22.0))
    assert bool(made.found(CUT)) == cut


@pytest.mark.parametrize(
    ("per_h", "cut"),
    [
        pytest.param(0.0, True, id="the others work"),
        pytest.param(0.6, False, id="the others slide wetter"),
        pytest.param(2.5, False, id="so far as cans take them, but slowly"),
        pytest.param(50.0, True, id="cans took them there"),
    ],
)
def test_pots_that_slide_wetter_beside_those_that_dry_speak_of_emitters_and_not_of_a_line(
    per_h: float, cut: bool
) -> None:
    made = Told(PLACE, interval_s=300.0, days=6.0)
    for pot in range(POTS):
        wetter = lambda hours, pot=pot: np.where(  # noqa: E731
            hours < -20.0, works(pot)(hours), np.maximum(90.0 - per_h * (hours + 20.0), 40.0)
        )
        others = wetter if per_h else works(pot)
        made.tension(pot, cut_off(-5.0, pot) if pot < POTS - 2 else others)
    assert bool(made.level(0, stopped(-5.0)).found(CUT)) == cut


@pytest.mark.parametrize(("came_from", "cut"), [(30.0, False), (88.0, True)])
def test_pots_on_their_way_up_from_a_can_were_not_due_for_water(came_from: float, cut: bool) -> None:
    """Two of them dry; the others have had no water for eight hours, but were wet until some hours ago, or were not."""
    made = Told(PLACE, interval_s=300.0, days=6.0)
    for pot in range(POTS):
        up = steps((-200, came_from), (-8, came_from), (0, 100))
        others = lambda hours, pot=pot, up=up: np.where(hours < -8.0, works(pot)(hours), up(hours))  # noqa: E731
        made.tension(pot, cut_off(-8.0, pot) if pot < 2 else others)
    assert bool(made.level(0, stopped(-8.0)).found(CUT)) == cut


def test_pots_in_which_plants_were_put_today_are_not_dry_below_their_set_point() -> None:
    place = facility(room(pots=4))
    made = Told(place, interval_s=300.0, days=6.0)
    for pot in range(4):
        planted = steps((-200, 60 + pot), (-8, 61 + pot), (0, 92 + pot))
        made.tension(pot, plus(planted, steady(0, 0.3, pot)) if pot < 2 else works(pot))
    made.level(0, stopped(-5.0))
    assert made.found(CUT) == []


@pytest.mark.parametrize(("thirsty", "leak"), [(True, False), (False, True)])
def test_what_plants_drink_more_is_seen_by_how_fast_their_pots_dry_and_is_no_leak(thirsty: bool, leak: bool) -> None:
    """Since 08:00 the reservoir gives twice as much as ever, and no air is measured."""
    made = Told(PLACE, interval_s=300.0, days=6.0, later_h=3.0)
    faster = lambda hours: hours + (np.maximum(hours + 5.0, 0.0) if thirsty else 0.0)  # noqa: E731
    for pot in range(POTS):
        made.tension(pot, lambda hours, pot=pot: works(pot)(0.4 * faster(hours)))
    made.level(0, plus(USUAL, lambda hours: -6.0 * np.maximum(hours + 5.0, 0.0), steady(60)))
    assert any(made.found(LEAK, as_of=NOW + timedelta(hours=h)) for h in (0.0, 1.0, 2.0, 3.0)) == leak


def back_from_drought(level_mm_per_h: float, dry: bool = True, filled_h: float = -1.0) -> Told:
    """One pot of 20 l was dry until its line gave water again; so much more than usual leaves meanwhile."""
    made = Told(PLACE, interval_s=300.0, days=6.0, later_h=2.0)
    drought = steps((-60, 105), (-20, 260), (filled_h - 2.0, 300), (filled_h, 95), (10, 100))
    for pot in range(POTS):
        made.tension(pot, drought if dry and pot == 0 else works(pot))
    return made.level(0, plus(USUAL, lambda hours: -level_mm_per_h * np.clip(hours + 3.0, 0.0, 5.0), steady(100)))


def leaks(made: Told) -> bool:
    return any(made.found(LEAK, as_of=NOW + timedelta(hours=h)) for h in (1.0, 1.5, 2.0))


def test_a_pot_back_from_drought_is_no_leak_while_it_fills() -> None:
    assert not leaks(back_from_drought(6.0))
    assert leaks(back_from_drought(6.0, dry=False))


def test_more_than_a_pot_back_from_drought_can_hold_is_a_leak() -> None:
    """16 l in four hours into a pot of 20 l that was no drier than 300 mbar."""
    assert leaks(back_from_drought(15.0))


def test_a_pot_that_has_been_near_its_set_point_for_six_hours_fills_no_more() -> None:
    assert leaks(back_from_drought(6.0, filled_h=-8.0))
