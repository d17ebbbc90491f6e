"""sudden-wetting: an emitter stuck open is called, a can, a catching-up line and a failing probe are not."""

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
    worked,
)
from wickwatch.fleet import Facility

KIND = "sudden-wetting"
POTS = 8
#: Wet limit 60; pots swing between 88 and 105.
WORKS = plus(sawtooth(88, 105), steady(0, 0.3, 7))


def house(**more: object) -> Facility:
    return facility(room(pots=POTS, **more))  # type: ignore[arg-type]


def told(
    place: Facility,
    wet: Course,
    level: Course | None = None,
    others: Course = WORKS,
    interval_s: float = 60.0,
    later_h: float = 8.0,
    second: Course | None = None,
) -> Told:
    """The first pot (and second) as given, the others working; the level falls by 6 mm an hour by day unless given."""
    made = Told(place, interval_s=interval_s, days=6.0, later_h=later_h).tension(0, plus(wet, steady(0, 0.3, 3)))
    for pot in range(1, POTS):
        made.tension(pot, others if pot > 1 or second is None else second)
    if place.rooms[0].reservoirs[0].level is None:
        return made
    usual = plus(drawn(300, by_day=6, by_night=1), steady(0, 0.5, 5))
    return made.level(0, usual if level is None else level)


def open_since(at_h: float) -> Course:
    """An emitter open from `at_h` on: 60 mbar after some 25 minutes, sodden after an hour and a half."""
    return watered(at_h, 100, 8, minutes=100, before=WORKS)


def can(at_h: float) -> Course:
    """Somebody pours for eight minutes."""
    return watered(at_h, 100, 35, minutes=8, before=WORKS)


def draining(at_h: float, per_h: float = 20.0) -> Course:
    """The usual draw, and so many mm an hour more from `at_h` on."""
    return plus(
        drawn(300, by_day=6, by_night=1), steady(0, 0.5, 5), lambda hours: -per_h * np.maximum(hours - at_h, 0.0)
    )


def refill(at_h: float) -> Course:
    """Ten minutes of pouring 250 mm into the reservoir."""
    return lambda hours: 250.0 * np.clip(6.0 * (hours - at_h), 0.0, 1.0)


def minutes_until_found(made: Told, until: int = 300) -> int | None:
    """Minutes after NOW of the first sweep that finds the first pot, at the five minutes."""
    found = (m for m in range(0, until, 5) if "Pot 0" in names(made.found(KIND, as_of=NOW + timedelta(minutes=m))))
    return next(found, None)


@pytest.mark.parametrize("interval_s", [10, 60, 300, 600])
def test_an_emitter_stuck_open_is_called_within_three_quarters_of_an_hour(interval_s: int) -> None:
    place = house(interval_s=interval_s)
    minutes = minutes_until_found(told(place, open_since(0.0), draining(0.0), interval_s=interval_s))
    assert minutes is not None
    assert minutes <= 45


def test_an_emitter_that_opens_just_before_a_refill_is_called_by_what_leaves_afterwards() -> None:
    minutes = minutes_until_found(told(house(), open_since(0.0), plus(draining(0.0, 8.0), refill(0.6))))
    assert minutes is not None
    assert minutes <= 240


def test_a_can_is_not_called_though_the_reservoir_is_refilled_after_it() -> None:
    usual = plus(drawn(300, by_day=6, by_night=1), steady(0, 0.5, 5))
    assert minutes_until_found(told(house(), can(0.0), plus(usual, refill(0.3)))) is None


def test_it_tells_how_far_it_fell_how_much_leaves_and_since_when() -> None:
    made = told(house(), open_since(0.0), draining(0.0))
    (found,) = made.found(KIND, as_of=NOW + timedelta(minutes=90))
    assert found.evidence["wet_limit_mbar"] == 60.0
    assert found.evidence["tension_mbar"] < 30
    assert found.evidence["fall_mbar"] > 2 * found.evidence["usual_fall_mbar"]
    assert found.evidence["excess_l_per_h"] == pytest.approx(20 * LITRES_PER_MM, rel=0.25)
    assert abs(found.since - NOW) <= timedelta(minutes=10)
    assert found.subject.name == "Pot 0"


def test_it_goes_on_being_found_while_water_comes() -> None:
    made = told(house(), open_since(0.0), draining(0.0))
    assert all(made.found(KIND, as_of=NOW + timedelta(minutes=m)) for m in range(60, 480, 20))


def test_no_more_water_leaves_and_it_is_found_no_longer_but_is_over_only_once_the_pot_recovers() -> None:
    def closed_after_two_hours(hours):
        return draining(0.0)(hours) + 20.0 * np.maximum(hours - 2.0, 0.0)

    drunk_again = plus(open_since(0.0), lambda hours: 3.0 * np.maximum(hours - 9.0, 0.0))
    place = house()
    made = told(place, drunk_again, closed_after_two_hours, later_h=14.0)
    key = (KIND, place.rooms[0].containers[0].id)
    assert made.found(KIND, as_of=NOW + timedelta(hours=1.5))
    still_wet, recovers = (made.judge(KIND, as_of=NOW + timedelta(hours=h)) for h in (7.5, 12.0))
    assert still_wet.findings == recovers.findings == ()
    assert key in still_wet.lasting
    assert key not in recovers.lasting


def test_it_does_not_come_back_when_others_drink_more_while_the_pot_is_still_wet() -> None:
    """Closed after two hours; eleven hours after the fall as much leaves again as on a hot afternoon."""

    def closed_then_hot(hours):
        return draining(0.0)(hours) + 20.0 * np.maximum(hours - 2.0, 0.0) - 8.0 * np.maximum(hours - 11.0, 0.0)

    made = told(house(), open_since(0.0), closed_then_hot, later_h=16.0)
    assert made.found(KIND, as_of=NOW + timedelta(hours=1.5))
    assert not any(made.found(KIND, as_of=NOW + timedelta(hours=h)) for h in (9.0, 12.0, 13.0, 14.0, 15.5))


def test_an_emitter_that_opens_two_days_after_a_drought_ended_is_called() -> None:
    """The fall out of the drought, to sodden, is over since the pot has stood high again."""
    drought = steps((-60, 95), (-40, 480), (-36, 480), (-35, 20), (-30, 25), (-6, 95), (0, 95))
    made = told(house(), watered(0.0, 95, 8, minutes=100, before=drought), draining(0.0))
    assert minutes_until_found(made, until=60) is not None


def test_a_can_is_not_called_because_the_reservoir_leaks() -> None:
    """The leak takes three times what the can gives, but took it before the can, too."""
    slow = watered(0.0, 100, 40, minutes=30, before=WORKS)
    assert minutes_until_found(told(house(), slow, draining(-6.0)), until=150) is None


def taken_meanwhile() -> tuple[Facility, Course]:
    """A house of pots of 25 l, and a level that gives 6 mm more within the first half hour."""
    usual = plus(drawn(300, by_day=6, by_night=1), steady(0, 0.5, 5))
    takes = plus(usual, lambda hours: -6.0 * np.clip(2.0 * hours, 0.0, 1.0))
    place = house()
    pots = tuple(replace(pot, medium="peat-perlite", volume_l=25.0) for pot in place.rooms[0].containers)
    return replace(place, rooms=(replace(place.rooms[0], containers=pots),)), takes


def test_a_can_is_not_called_because_another_emitter_takes_as_much_meanwhile() -> None:
    """An emitter that had crept is set wetter while somebody pours elsewhere: its pot takes what leaves."""
    slow = watered(0.0, 100, 45, minutes=30, before=WORKS)
    place, takes = taken_meanwhile()
    assert minutes_until_found(told(place, slow, takes)) is not None
    wetter = plus(watered(0.05, 170, 76, minutes=30), steady(0, 0.3, 4))
    assert minutes_until_found(told(place, slow, takes, second=wetter)) is None


def test_the_first_of_a_room_that_is_watered_by_hand_is_not_called_before_the_others_have_fallen_as_far() -> None:
    """Theirs is not beyond doubt yet as its own is, while others draw as much as it gains."""
    slow = watered(0.0, 100, 45, minutes=30, before=WORKS)
    place, takes = taken_meanwhile()

    def some(hours):
        return WORKS(hours + 1.5) - 20.0 * np.clip((hours - 0.05) / 0.3, 0.0, 1.0)

    assert minutes_until_found(told(place, slow, takes), until=120) is not None
    assert minutes_until_found(told(place, slow, takes, others=some), until=120) is None


def test_water_that_dwindles_is_not_called_early_because_one_reading_gained_as_much_as_the_one_before() -> None:
    """A can's, as a coarse probe told it every five minutes, while the others drink more than usual."""
    seen = [104, 104, 85, 67, 57, 50, 44, 42, 40]
    course = steps(*[(k / 12, mbar) for k, mbar in enumerate(seen)])

    def wet(hours):
        return np.where(hours < 0.0, WORKS(hours), course(hours))

    made = told(house(interval_s=300), wet, draining(0.0, 14.0), interval_s=300)
    assert minutes_until_found(made, until=60) is None


def test_a_can_that_ends_is_not_called_half_an_hour_after_it_began_because_others_draw_as_much() -> None:
    """Within ten minutes of that as much as before has come, but in the last five hardly any."""
    seen = [99, 95.7, 82, 65.9, 54.1, 46.7, 43, 40.3, 39, 38]
    course = steps(*[(k / 12, mbar) for k, mbar in enumerate(seen)])

    def wet(hours):
        return np.where(hours < 0.0, WORKS(hours), course(hours))

    assert minutes_until_found(told(house(), wet, draining(0.0, 16.0)), until=120) is None


def test_a_large_can_is_not_called_though_others_draw_as_much_just_then() -> None:
    """Poured for a quarter of an hour, it spreads as long; others take 8 mm in the twenty minutes since it began."""
    can = watered(0.0, 100, 35, minutes=14, spreads_min=14, before=WORKS)
    drunk = plus(draining(0.0, 0.0), lambda hours: -8.0 * np.clip(hours * 3.0, 0.0, 1.0))
    made = told(house(), can, drunk)
    assert not any(made.found(KIND, as_of=NOW + timedelta(minutes=m)) for m in range(15, 90, 5))


def test_a_pot_watered_by_hand_is_watched_and_not_called() -> None:
    assert minutes_until_found(told(house(), can(0.0)), until=470) is None


def test_a_room_watered_by_hand_is_not_called_even_where_it_took_long() -> None:
    slow = watered(0.0, 100, 40, minutes=30, before=WORKS)
    assert minutes_until_found(told(house(), slow, others=slow), until=470) is None


def test_a_work_entry_keeps_a_wet_pot_from_being_called() -> None:
    place = house()
    made = told(place, open_since(-1.5), draining(-1.5))
    pot = place.rooms[0].containers[0]
    assert names(made.found(KIND)) == ["Pot 0"]
    assert made.found(KIND, [worked("watered-by-hand", pot, hours_ago=2)]) == []
    assert names(made.found(KIND, [worked("checked", pot, hours_ago=2)])) == ["Pot 0"]


def test_an_emitter_that_opens_hours_after_a_can_is_called_though_the_pot_still_settles() -> None:
    def again(hours):  # five hours after the can, at 52 mbar
        return watered(0.0, 52, 8, minutes=100, before=can(-5.0))(hours)

    place = house()
    made = told(place, again, draining(0.0))
    entry = [worked("watered-by-hand", place.rooms[0].containers[0], hours_ago=5)]
    assert not any(made.found(KIND, entry, as_of=NOW + timedelta(minutes=m)) for m in range(-120, 1, 20))
    assert any(names(made.found(KIND, entry, as_of=NOW + timedelta(minutes=m))) == ["Pot 0"] for m in range(20, 90, 5))


def test_an_emitter_that_opens_on_a_pot_still_wet_from_an_untold_can_is_called() -> None:
    """The can took it deeper than the emitter now does, and its water has spread since, up to 46 mbar."""
    poured = watered(-14.0, 100, 8, minutes=10, before=WORKS)
    spreads = steps((-12.5, 8), (-9, 40), (0, 46))

    def again(hours):
        return watered(0.0, 46, 8, minutes=100, before=lambda h: np.where(h < -12.5, poured(h), spreads(h)))(hours)

    minutes = minutes_until_found(told(house(), again, draining(0.0)), until=150)
    assert minutes is not None
    assert minutes <= 75


def test_an_emitter_that_opens_on_a_pot_that_stood_wet_for_days_is_called() -> None:
    """Its plant was taken out; from 31 mbar it falls by one within five minutes, which is as much water as ever."""
    wet = watered(0.0, 31, 7, minutes=150, before=steady(31.0))
    minutes = minutes_until_found(told(house(), wet, draining(0.0, 8.0)))
    assert minutes is not None
    assert minutes <= 150


def test_a_pot_of_a_room_that_was_watered_is_not_called_as_the_others_fall_silent_before_it() -> None:
    """All of them, and the level, were heard through one gateway that has just gone."""
    slow = watered(0.0, 100, 30, minutes=45, before=WORKS)
    made = Told(house(), days=6.0, later_h=4.0).tension(0, plus(slow, steady(0, 0.3, 3)), until_h=1.1)
    for pot in range(1, POTS):
        made.tension(pot, slow, until_h=1.0)
    made.level(0, plus(drawn(300, by_day=6, by_night=1), steady(0, 0.5, 5)), until_h=1.0)
    assert minutes_until_found(made, until=120) is None


def test_what_a_can_gave_is_not_called_once_its_water_has_drained() -> None:
    """Without any level to tell, by a slow can: whoever poured has said so."""
    place = house()
    bare = replace(
        place, rooms=tuple(replace(each, reservoirs=(replace(each.reservoirs[0], level=None),)) for each in place.rooms)
    )
    slow = watered(-3.0, 100, 8, minutes=60, before=WORKS)
    made = told(bare, slow)
    assert names(made.found(KIND)) == ["Pot 0"]
    assert made.found(KIND, [worked("watered-by-hand", place.rooms[0].containers[0], hours_ago=3)]) == []


def test_water_that_did_not_leave_the_reservoir_was_poured_however_steadily_it_came() -> None:
    slow = watered(0.0, 100, 30, minutes=60, before=WORKS)
    assert minutes_until_found(told(house(), slow), until=150) is None


def test_a_pot_whose_own_waterings_pass_the_wet_limit_is_as_usual() -> None:
    made = told(house(), sawtooth(50, 78))
    assert not any(made.found(KIND, as_of=NOW + timedelta(minutes=m)) for m in range(0, 240, 10))


def test_a_tensiometer_that_took_in_air_is_no_wetting() -> None:
    made = told(house(), steps((-6, 95), (-3, 780), (-1, 780), (-0.2, 20), (0.5, 0)))
    assert not any(made.found(KIND, as_of=NOW + timedelta(minutes=m)) for m in range(0, 240, 10))


def test_a_cup_that_was_in_the_air_is_no_wetting() -> None:
    """From a sodden pot it leaps to 95 within five minutes, and comes down to 40 within the hour, as if wetted."""

    def moved(hours):
        return np.where(hours < 0.0, 25.0, 40.0 + 55.0 * np.exp(-np.maximum(hours, 0.0) / 0.5))

    assert minutes_until_found(told(house(), moved, draining(0.0, 8.0)), until=180) is None


def moved_at(at_h: float, then: Course) -> Course:
    """A probe put elsewhere: from what the air made of it, 45 above, it comes down within the hour and shows `then`."""
    aired = lambda hours: 45.0 * np.exp(-np.maximum(hours - at_h, 0.0) / 0.2)  # noqa: E731
    return lambda hours: np.where(hours < at_h, WORKS(hours), then(hours) + aired(hours))


@pytest.mark.parametrize(("moved_h", "found"), [(-6.0, False), (-30.0, True)])
def test_a_watering_is_not_called_where_its_probe_was_put_elsewhere_and_is_not_known_yet(
    moved_h: float, found: bool
) -> None:
    """Where it was it fell by 17 mbar, and now by 30, as its lights come on and more leaves."""
    deep = watered(0.0, 88, 58, minutes=40, before=lambda hours: 88.0 + 0.0 * hours)
    made = told(house(), moved_at(moved_h, deep), draining(0.0, 8.0))
    assert (minutes_until_found(made, until=180) is not None) == found


def test_an_emitter_stuck_open_is_called_soon_though_its_probe_was_put_elsewhere_today() -> None:
    made = told(house(), moved_at(-6.0, open_since(0.0)), draining(0.0))
    assert (minutes_until_found(made) or 999) <= 50


def test_an_emitter_is_called_on_a_pot_whose_probe_was_filled_again_after_a_drought() -> None:
    """The cup had lost its water at its limit, showed nothing for a day, and shows the pot again since eleven hours."""
    drought = steps((-60, 95), (-40, 480), (-36, 780), (-35, 2), (-11.01, 2), (-11, 60), (-3, 95), (0, 95))
    wet = watered(0.0, 95, 4, minutes=100, before=drought)
    made = told(house(interval_s=600), wet, draining(0.0), interval_s=600)
    assert minutes_until_found(made, until=60) is not None


def test_a_leap_to_zero_is_no_wetting() -> None:
    made = told(house(), lambda hours: np.where(hours < 0, WORKS(hours), 0.0))
    assert minutes_until_found(made, until=470) is None


def test_a_pot_back_from_drought_may_overshoot() -> None:
    """Its emitter was fully open; it closes within the hour, and what left the reservoir was for that."""
    course = watered(0.0, 170, 42, minutes=40, before=steps((-12, 100), (0, 170)))

    def level(hours):
        return draining(0.0)(hours) + 20.0 * np.maximum(hours - 0.7, 0.0)

    assert minutes_until_found(told(house(), course, level), until=470) is None


def without_level(made: Facility) -> Facility:
    rooms = (replace(each, reservoirs=(replace(each.reservoirs[0], level=None),)) for each in made.rooms)
    return replace(made, rooms=tuple(rooms))


def test_without_a_level_water_that_comes_steadily_is_called() -> None:
    bare = without_level(house())
    minutes = minutes_until_found(told(bare, open_since(0.0)))
    assert minutes is not None
    assert minutes <= 60
    assert minutes_until_found(told(bare, can(0.0)), until=470) is None


@pytest.mark.parametrize(
    ("per_h", "called"),
    [
        pytest.param(0.0, True, id="it stays as wet as it was"),
        pytest.param(0.2, False, id="its plant drinks as usual, which is little tension near saturation"),
    ],
)
def test_without_a_level_a_pot_filled_at_once_is_called_if_it_stays_wet_while_plants_drink(
    per_h: float, called: bool
) -> None:
    """Ten minutes of water at noon; usually the pots rise by 17 mbar within hours."""
    since = lambda hours: per_h * np.maximum(hours - 1.0, 0.0)  # noqa: E731
    wet = plus(watered(0.0, 100, 15, minutes=10, before=WORKS), since)
    made = told(without_level(house()), wet, later_h=24.0)
    found = ["Pot 0" in names(made.found(KIND, as_of=NOW + timedelta(hours=hour))) for hour in (1, 3, 20)]
    assert found == [False, False, called]


def test_a_silent_probe_leaves_it_unknown() -> None:
    place = house()
    made = Told(place, days=3.0).tension(0, open_since(-3.0), until_h=-1.0)
    judged = made.judge(KIND)
    assert judged.findings == ()
    assert (KIND, place.rooms[0].containers[0].id) in judged.unknown
