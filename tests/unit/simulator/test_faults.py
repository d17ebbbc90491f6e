"""Each event leaves its own mark in the readings, and only where it should."""

from __future__ import annotations

import numpy as np
import pytest

from tests.unit.simulator.houses import History, between, event, fallen, house
from wickwatch_simulator.catalogue import EVENTS

ROOM = {name: number for number, name in enumerate(EVENTS, 1)}
LENGTH = {"drifting": 200.0, "probe-drift": 150.0, "uneven-room": 200.0, "pruning": 150.0, "plant-removed": 150.0}
BEGIN, DAYS = 48.0, 8.0
#: Room without any event.
QUIET = len(EVENTS) + 1


@pytest.fixture(scope="module")
def seen(tmp_path_factory: pytest.TempPathFactory) -> History:
    """Every event once, each in its own room, two days in at 02:00 (03:00 in the house)."""
    sizes = {"hand-watering": {"share_of_volume": 0.08}, "hand-watering-room": {"share_of_volume": 0.08}}
    sizes |= {"probe-moved": {"offset_mbar": 15}, "hot-day": {"degc": 7}, "door-open": {"degc": -6, "rh": -10}}
    sizes |= {"refill-splash": {"noise_mm": 40}}
    sizes |= {"empty-reservoir": {"hours_left": 20, "hours_empty": 24}, "air-lock": {"from_share": 0.5}}
    sizes |= {
        "stuck-open": {"opening": 0.6},
        "late-lights": {"minutes": 180},
        "photoperiod-change": {"light_hours": 16},
    }
    text = ""
    for name in EVENTS:
        hours = LENGTH.get(
            name, {"hand-watering": 0.1, "hand-watering-room": 0.3, "refill-splash": 0.5}.get(name, 30.0)
        )
        if name == "empty-reservoir":
            text += event(name, room=ROOM[name], day=BEGIN / 24, **sizes[name])
        else:
            text += event(name, room=ROOM[name], day=BEGIN / 24, hours=hours, **sizes.get(name, {}))
    folder = tmp_path_factory.mktemp("faults")
    return History(house(folder, text, rooms=QUIET, days=DAYS, template="water_days = 6\ntwin_share = 0"))


def test_a_stuck_emitter_falls_through_the_wet_limit_within_two_hours_and_stays(seen: History) -> None:
    series = seen.tension(ROOM["stuck-open"])
    assert between(series, BEGIN - 24, BEGIN).min() > 75
    assert between(series, BEGIN + 2, BEGIN + 30).max() < 60
    excess = seen.events("stuck-open")[0]["detail"]["excess_l_per_h"]  # type: ignore[index]
    level = seen.level(ROOM["stuck-open"])
    assert 1 < excess < 12 and fallen(level, BEGIN, BEGIN + 3) > 5 + fallen(level, BEGIN - 24, BEGIN - 21)


def test_a_drifting_emitter_dries_by_what_the_truth_says(seen: History) -> None:
    series = seen.tension(ROOM["drifting"])
    per_day = [between(series, BEGIN + 24 * d, BEGIN + 24 * d + 24).mean() for d in range(6)]
    assert np.polyfit(np.arange(6), per_day, 1)[0] == pytest.approx(11.0, rel=0.25)


def test_a_clogged_emitter_dries_its_container_only(seen: History) -> None:
    assert between(seen.tension(ROOM["clogged"]), BEGIN + 12, BEGIN + 30).max() > 150
    assert between(seen.tension(ROOM["clogged"], 2), BEGIN, BEGIN + 30).max() < 125


def test_a_forgotten_reservoir_runs_dry_near_its_time_and_then_its_pots_dry(seen: History) -> None:
    record = seen.events("empty-reservoir")[0]
    onset = np.datetime64(str(record["detail"]["onset"])[:-1])  # type: ignore[index]
    hours = (onset - np.datetime64("2026-03-02")) / np.timedelta64(1, "h")
    assert BEGIN < hours < BEGIN + 60
    sensor_zero = seen.sim.world.reservoir_plans[ROOM["empty-reservoir"] - 1].sensor_zero_mm
    level = between(seen.level(ROOM["empty-reservoir"]), hours - 1, hours + 1)
    assert np.median(level) == pytest.approx(70 - sensor_zero, abs=6)
    pots = [between(seen.tension(ROOM["empty-reservoir"], pot), hours, hours + 40).max() for pot in range(1, 8)]
    assert np.median(pots) > 130
    assert record["to"] is not None and seen.level(ROOM["empty-reservoir"])[1][-1] > 300


def test_a_leaking_reservoir_falls_in_the_dark_when_nothing_drinks(seen: History) -> None:
    level = seen.level(ROOM["reservoir-leak"])
    assert fallen(level, BEGIN, BEGIN + 3) > 8 + fallen(level, BEGIN - 24, BEGIN - 21)


@pytest.mark.parametrize(("name", "pots"), [("closed-valve", "all"), ("air-lock", "half")])
def test_an_interrupted_line_dries_its_containers_while_the_reservoir_hardly_falls(
    seen: History, name: str, pots: str
) -> None:
    room = ROOM[name]
    count = int(np.sum(seen.sim.world.room_of[: seen.sim.world.probed] == room - 1))
    dry = [between(seen.tension(room, pot), BEGIN + 15, BEGIN + 30).max() > 140 for pot in range(1, count + 1)]
    assert all(dry) if pots == "all" else 0.3 < np.mean(dry) < 0.7
    drawn = fallen(seen.level(room), BEGIN + 2, BEGIN + 18)
    assert drawn < (0.2 if pots == "all" else 0.8) * fallen(seen.level(room), BEGIN - 22, BEGIN - 6)


def test_an_uneven_room_spreads_and_its_emitters_are_told(seen: History) -> None:
    room = ROOM["uneven-room"]
    count = int(np.sum(seen.sim.world.room_of[: seen.sim.world.probed] == room - 1))

    def mean(begin: float) -> list[float]:
        return [float(between(seen.tension(room, pot), begin, begin + 24).mean()) for pot in range(1, count + 1)]

    assert np.ptp(mean(BEGIN + 96)) > 2 * np.ptp(mean(BEGIN - 30))


@pytest.mark.parametrize(("name", "hours"), [("silent-probe", 30), ("silent-gateway", 30)])
def test_what_is_silent_sends_nothing_until_it_is_over(seen: History, name: str, hours: float) -> None:
    series = seen.tension(ROOM[name])
    assert len(between(series, BEGIN + 0.1, BEGIN + hours - 0.1)) == 0
    assert len(between(series, BEGIN + hours, BEGIN + hours + 2)) >= 23
    others = seen.tension(ROOM[name], 2)
    assert (len(between(others, BEGIN + 0.1, BEGIN + hours - 0.1)) == 0) == (name == "silent-gateway")


def test_a_flat_probe_says_one_value_while_its_neighbours_swing(seen: History) -> None:
    assert np.ptp(between(seen.tension(ROOM["flat-probe"]), BEGIN + 0.1, BEGIN + 29)) == 0
    assert np.ptp(between(seen.tension(ROOM["flat-probe"], 2), BEGIN, BEGIN + 29)) > 5


def test_a_probe_out_of_range_reads_below_any_tension(seen: History) -> None:
    assert between(seen.tension(ROOM["out-of-range-probe"]), BEGIN + 0.1, BEGIN + 29).max() < -20


def test_air_entry_climbs_to_a_plateau_and_falls_to_nothing_while_the_pot_is_well(seen: History) -> None:
    series = seen.tension(ROOM["air-entry"])
    assert 700 < between(series, BEGIN, BEGIN + 12).max() < 850
    assert between(series, BEGIN + 22, BEGIN + 29).max() < 15
    assert 70 < between(series, BEGIN + 31, BEGIN + 40).mean() < 130


def test_a_noisy_probe_is_right_on_average(seen: History) -> None:
    noisy = between(seen.tension(ROOM["noisy-probe"]), BEGIN + 0.1, BEGIN + 29)
    assert np.std(noisy) > 20
    assert noisy.mean() == pytest.approx(100, abs=20)


def test_a_drifting_probe_leaves_its_container_alone(seen: History) -> None:
    series = seen.tension(ROOM["probe-drift"])
    grown = between(series, BEGIN + 100, BEGIN + 124).mean() - between(series, BEGIN - 24, BEGIN).mean()
    assert grown == pytest.approx(8.5 * 112 / 24, abs=12)
    assert abs(seen.sim.world.set_point_mbar[seen.container(ROOM["probe-drift"])] - 100) < 20


def test_a_low_battery_is_told_and_then_readings_go_missing(seen: History) -> None:
    pot = seen.container(ROOM["low-battery"])
    battery = seen.channel(seen.sim.channels.battery.start + pot)
    assert between(battery, BEGIN - 2, BEGIN).max() <= 21
    assert between(battery, BEGIN + 20, BEGIN + 24).min() < 12
    assert 0 < len(between(seen.channel(pot), BEGIN + 12, BEGIN + 28)) < 0.9 * 16 * 12


def test_a_stuck_level_sensor_stands_still_while_its_pots_drink(seen: History) -> None:
    room = ROOM["stuck-level"]
    assert np.ptp(between(seen.level(room), BEGIN + 0.1, BEGIN + 29)) == 0
    assert fallen(seen.level(room), BEGIN - 24, BEGIN) > 5


def test_hand_watering_falls_as_a_stuck_emitter_does_and_recovers_with_the_reservoir_untouched(seen: History) -> None:
    series = seen.tension(ROOM["hand-watering"])
    assert between(series, BEGIN + 0.3, BEGIN + 3).min() < 60
    assert between(series, BEGIN + 60, BEGIN + 84).mean() > 80
    assert np.ptp(between(seen.level(ROOM["hand-watering"]), BEGIN, BEGIN + 2)) < 10


def test_a_room_watered_by_hand_falls_all_together(seen: History) -> None:
    room = ROOM["hand-watering-room"]
    lows = [between(seen.tension(room, pot), BEGIN + 0.5, BEGIN + 4).min() for pot in range(1, 8)]
    assert max(lows) < 65


def test_a_hot_day_and_an_open_door_show_in_the_air(seen: History) -> None:
    def mean(name: str, begin: float) -> float:
        return float(between(seen.air(ROOM[name]), begin, begin + 24).mean())

    assert mean("hot-day", BEGIN + 3) > mean("hot-day", BEGIN - 24) + 4
    assert mean("door-open", BEGIN + 3) < mean("door-open", BEGIN - 24) - 3


@pytest.mark.parametrize(("name", "more"), [("late-lights", -3), ("photoperiod-change", 4)])
def test_lights_that_are_late_or_longer_show_in_the_room_s_temperature(seen: History, name: str, more: float) -> None:
    def warm_hours(begin: float) -> float:
        return float(np.sum(between(seen.air(ROOM[name]), begin, begin + 24) > 22.5)) / 12

    assert warm_hours(BEGIN) - warm_hours(BEGIN - 24) == pytest.approx(more, abs=1.5)


def test_pruned_plants_and_a_removed_plant_drink_less(seen: History) -> None:
    room = ROOM["pruning"]

    def lit(begin: float) -> float:
        return fallen(seen.level(room), begin + 5, begin + 15)

    assert lit(BEGIN) < 0.85 * lit(BEGIN - 24)
    gone = seen.tension(ROOM["plant-removed"])
    assert np.ptp(between(gone, BEGIN + 30, BEGIN + 54)) < 0.7 * np.ptp(between(gone, BEGIN - 40, BEGIN - 16))


def test_a_splash_makes_the_level_jump_about_for_a_while(seen: History) -> None:
    level = seen.level(ROOM["refill-splash"])
    assert np.ptp(between(level, BEGIN, BEGIN + 0.6)) > 2 * np.ptp(between(level, BEGIN - 2, BEGIN))


def test_a_moved_probe_reads_its_new_pot_after_a_spell_in_air(seen: History) -> None:
    series = seen.tension(ROOM["probe-moved"])
    assert between(series, BEGIN, BEGIN + 0.3).max() > 120
    assert between(series, BEGIN + 3, BEGIN + 27).mean() > between(series, BEGIN - 24, BEGIN).mean() + 5


def test_a_room_without_events_is_left_in_peace(seen: History) -> None:
    for pot in range(1, 8):
        _, values = seen.tension(QUIET, pot)
        assert values.min() > 70 and values.max() < 130
