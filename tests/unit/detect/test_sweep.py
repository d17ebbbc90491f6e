"""A sweep as a whole: what is judged, in what order, by nothing but the frame."""

from __future__ import annotations

import gc
import weakref
from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest

from tests.unit.detect.builders import (
    LITRES_PER_MM,
    NOW,
    Told,
    drawn,
    facility,
    plus,
    room,
    sawtooth,
    steady,
    steps,
    worked,
)
from wickwatch.agronomy.tank import tank_from_keys
from wickwatch.detect import Finding, Frame, sweep
from wickwatch.detect.due import EVERY
from wickwatch.detect.layout import NONE, layout
from wickwatch.fleet import KINDS, Facility, Kind, Reservoir, Room

ALL: frozenset[Kind] = frozenset(KINDS)


def troubled(place: Facility, later_h: float = 0.0) -> Told:
    """A dry pot, a silent one, one that works, and an empty reservoir."""
    made = Told(place, days=8.0, interval_s=300.0, later_h=later_h)
    made.tension(0, steps((-60, 100), (-20, 195), (0, 195), (1, 20)))
    made.tension(1, plus(sawtooth(88, 105), steady(0, 0.3, 1)), until_h=-2.0)
    made.tension(2, plus(sawtooth(88, 105), steady(0, 0.3, 2)))
    return made.level(0, drawn(62, by_day=6, by_night=1))


def plain(findings: tuple[Finding, ...]) -> list[object]:
    return [(each.kind, each.subject.id, each.since, dict(each.evidence), each.explained_by) for each in findings]


def test_every_kind_that_is_due_is_judged_and_the_watchs_own_is_not() -> None:
    judged = sweep(troubled(facility(room())).frame(), facility(room()), (), ALL).judged
    assert judged == set(EVERY)
    assert "monitoring-stopped" not in judged


def test_only_what_is_asked_is_judged() -> None:
    place = facility(room())
    judgement = sweep(troubled(place).frame(), place, (), frozenset({"probe-silent"}))
    assert judgement.judged == {"probe-silent"}
    assert {each.kind for each in judgement.findings} == {"probe-silent"}


def test_findings_of_several_kinds_come_in_the_order_of_kinds() -> None:
    place = facility(room())
    found = sweep(troubled(place).frame(), place, (), ALL).findings
    kinds = [each.kind for each in found]
    assert {"drying-drift", "reservoir-low", "reservoir-empty", "probe-silent"} <= set(kinds)
    assert kinds == sorted(kinds, key=KINDS.index)


def test_the_order_of_rooms_and_containers_does_not_matter() -> None:
    one, two = room("room-1"), room("room-2", first_channel=2001)
    place = facility(one, two)
    turned = replace(place, rooms=(two, replace(one, containers=one.containers[::-1])))
    frame = troubled(place).frame()
    assert plain(sweep(frame, place, (), ALL).findings) == plain(sweep(frame, turned, (), ALL).findings)


def test_what_is_read_later_does_not_matter() -> None:
    place = facility(room())
    before, after = troubled(place).frame(), troubled(place, later_h=6.0).frame()
    assert plain(sweep(before, place, (), ALL).findings) == plain(sweep(after, place, (), ALL).findings)


def test_work_done_later_does_not_matter() -> None:
    place = facility(room())
    frame = troubled(place).frame()
    later = worked("re-set-emitter", place.rooms[0].containers[0], hours_ago=-1)
    assert plain(sweep(frame, place, (later,), ALL).findings) == plain(sweep(frame, place, (), ALL).findings)


def test_a_repeated_sweep_says_the_same() -> None:
    place = facility(room())
    frame = troubled(place).frame()
    assert plain(sweep(frame, place, (), ALL).findings) == plain(sweep(frame, place, (), ALL).findings)


@pytest.mark.parametrize("place", [facility(), facility(room(pots=0, reservoirs=0)), facility(room(reservoirs=0))])
def test_a_place_without_rooms_reservoirs_or_readings_is_judged(place: Facility) -> None:
    nothing = Told(place).frame()
    assert sweep(nothing, place, (), ALL).findings == ()


def test_channels_that_are_attached_to_nothing_are_read_over() -> None:
    place = facility(room())
    made = troubled(place).channel(77_777, steady(500.0)).channel(88, steady(0.0))
    assert plain(sweep(made.frame(), place, (), ALL).findings) == plain(
        sweep(troubled(place).frame(), place, (), ALL).findings
    )


def test_a_frame_with_no_reading_at_all_leaves_everything_unknown() -> None:
    place = facility(room())
    frame = Told(place).tension(0, steady(100.0), until_h=-60.0).frame()
    empty = Frame(frame.as_of, frame.channels, frame.fine, frame.coarse, frame.last_value * np.nan, frame.last_at)
    judgement = sweep(empty, place, (), ALL)
    assert {("drying-drift", each.id) for each in place.rooms[0].containers} <= judgement.unknown
    assert ("reservoir-empty", place.rooms[0].reservoirs[0].id) in judgement.unknown


def test_the_arrays_of_a_place_are_made_once_and_go_with_it() -> None:
    place = facility(room())
    assert layout(place) is layout(place)
    assert layout(facility(room())) is not layout(place)
    made = weakref.ref(layout(place))
    assert made() is not None
    del place
    gc.collect()
    assert made() is None


def test_arrays_lead_from_container_to_line_to_reservoir() -> None:
    two = room(pots=4, reservoirs=2)
    bare = replace(two.containers[0], line_id=None)
    arrays = layout(
        facility(room("room-0", pots=1, first_channel=5001), replace(two, containers=(bare, *two.containers[1:])))
    )
    assert arrays.room_of.tolist() == [0, 1, 1, 1, 1]
    assert arrays.line_of.tolist() == [0, NONE, 2, 1, 2]
    assert arrays.reservoir_of.tolist() == [0, NONE, 2, 1, 2]
    assert arrays.container_rules.of("dry_limit_mbar").tolist() == [180.0] * 5


@pytest.mark.parametrize(
    ("shape", "keys"),
    [
        ("cylinder", {"diameter_mm": 580, "height_mm": 900}),
        ("lying-cylinder", {"diameter_mm": 800, "length_mm": 1200}),
        ("frustum", {"bottom_mm": 400, "top_mm": 600, "height_mm": 700}),
        ("table", {"strapping": [[0, 0.0], [100, 26.1], [400, 140.0], [900, 310.0]]}),
    ],
)
def test_volumes_by_table_agree_with_the_tank(shape: str, keys: dict[str, object]) -> None:
    arrays = layout(facility(with_tank(room(), shape, keys)))
    tank = tank_from_keys(shape, keys)
    levels = np.linspace(tank.lowest_mm, tank.height_mm, 97)
    litres = arrays.tanks.litres(levels[np.newaxis, :])[0]
    assert np.abs(litres - tank.volume_l(levels)).max() < 5e-4 * tank.full_l
    assert arrays.tanks.litres(np.array([[tank.height_mm + 50.0]]))[0, 0] == pytest.approx(tank.full_l)


def with_tank(made: Room, shape: str, keys: dict[str, object]) -> Room:
    tank: Reservoir = replace(made.reservoirs[0], shape=shape, keys=keys)
    return replace(made, reservoirs=(tank,))


def test_a_millimetre_is_its_litres() -> None:
    arrays = layout(facility(room()))
    litres = arrays.tanks.litres(np.array([[100.0, 101.0]]))[0]
    assert litres[1] - litres[0] == pytest.approx(LITRES_PER_MM, rel=1e-6)


def test_a_judgement_is_as_of_the_frame() -> None:
    place = facility(room())
    later = NOW + timedelta(minutes=7)
    assert sweep(troubled(place, later_h=1.0).frame(later), place, (), ALL).as_of == later
