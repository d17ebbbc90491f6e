"""Charts as shapes."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import UTC, datetime, time, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from wickwatch.agronomy.arrays import Floats
from wickwatch.web.views.axes import across, photoperiods
from wickwatch.web.views.chart import Chart, chart
from wickwatch.web.views.plan import Ahead, Marked, Plan, Series, scale_down

OSLO = ZoneInfo("Europe/Oslo")
START = datetime(2026, 11, 24, 10, 0, tzinfo=UTC)
HOUR = timedelta(hours=1)
PLAN = Plan("tension", "Tension", "mbar", 0, START, START + 24 * HOUR, HOUR, OSLO, 0.0, 200.0, band=(60.0, 180.0))


def _values(*values: float, first: int = 0) -> Floats:
    """A plan's 24 hours, of which some were read."""
    found = np.full(24, np.nan)
    found[first : first + len(values)] = values
    return found


def _numbers(path: str) -> list[tuple[str, float, float]]:
    return [(letter, float(x), float(y)) for letter, x, y in re.findall(r"([ML])([\d.]+) ([\d.]+)", path)]


def test_a_value_stands_at_the_middle_of_its_bucket_and_at_its_height() -> None:
    series = [Series("a", "Pot 1", _values(0.0, 100.0, 200.0))]
    down, drawn = scale_down(PLAN, series), chart(PLAN, series)
    assert (down.low, down.high) == (0.0, 200.0)
    assert _numbers(drawn.curves[0].path) == [("M", 20.8, 260.0), ("L", 62.5, 130.0), ("L", 104.2, 0.0)]
    assert drawn.band == (26.0, 182.0)


def test_what_was_not_read_is_not_drawn() -> None:
    points = np.fmax(_values(100.0, 101.0), _values(102.0, 103.0, first=6))
    letters = [letter for letter, _, _ in _numbers(chart(PLAN, [Series("a", "Pot 1", points)]).curves[0].path)]
    assert letters == ["M", "L", "M", "L"]


def test_a_single_value_can_be_seen() -> None:
    assert chart(PLAN, [Series("a", "Pot 1", _values(100.0))]).curves[0].path.endswith("h0")


def test_a_value_beyond_the_usual_range_widens_it_to_a_round_number() -> None:
    series = [Series("a", "Pot 1", _values(100.0, 447.0))]
    down, drawn = scale_down(PLAN, series), chart(PLAN, series)
    assert down.high >= 447.0
    assert [tick.label for tick in drawn.down][-1] == f"{down.high:g}"
    assert down.high % 50 == 0


def test_only_lines_with_something_wrong_are_named_and_names_do_not_cover_one_another() -> None:
    series = [Series(str(n), f"Pot {n}", _values(190.0 + n / 10), "dry") for n in range(8)]
    drawn = chart(PLAN, [*series, Series("q", "Pot 9", _values(100.0))])
    named = sorted(curve.y_name for curve in drawn.curves if curve.y_name is not None)
    assert len(named) == 8
    assert all(b - a >= 14.9 for a, b in pairwise(named))
    assert next(curve for curve in drawn.curves if curve.id == "q").y_name is None
    assert drawn.named


def test_a_chart_without_readings_says_so() -> None:
    drawn = chart(PLAN, [Series("a", "Pot 1", _values())])
    assert drawn.empty
    assert drawn.summary == "no readings in this time"


def test_marks_close_together_are_stacked_and_those_outside_are_left_out() -> None:
    times = [START + 2 * HOUR, START + 2 * HOUR + timedelta(minutes=5), START + 20 * HOUR, START - HOUR]
    drawn = chart(PLAN, [], [Marked(at, "alarm", "x") for at in times])
    assert [mark.row for mark in drawn.marks] == [0, 1, 0]


def _labels(start: datetime, length: timedelta) -> list[str]:
    return [tick.label for tick in across(start, start + length, OSLO)]


def test_the_grid_stands_on_the_facilitys_hours_and_midnights() -> None:
    assert _labels(START, 24 * HOUR) == ["12:00", "15:00", "18:00", "21:00", "Wed 25", "03:00", "06:00", "09:00"]
    week = _labels(START, timedelta(days=7))
    assert week == ["Wed 25", "Thu 26", "Fri 27", "Sat 28", "Sun 29", "Mon 30", "Tue 1"]
    assert 4 <= len(_labels(START, timedelta(days=30))) <= 9


def test_where_there_is_little_room_every_second_label_stays_and_midnight_always() -> None:
    ticks = across(START, START + 24 * HOUR, OSLO)
    assert [tick.label for tick in ticks if not tick.spare] == ["12:00", "18:00", "Wed 25", "06:00"]


@pytest.mark.parametrize(
    ("day", "hours"), [(datetime(2026, 3, 29, tzinfo=OSLO), 17), (datetime(2026, 10, 25, tzinfo=OSLO), 19)]
)
def test_lights_over_the_change_of_clocks_are_an_hour_shorter_or_longer(day: datetime, hours: int) -> None:
    start = (day - 12 * HOUR).astimezone(UTC)
    found = photoperiods(start, start + timedelta(days=2), OSLO, time(18), time(12))
    assert timedelta(hours=hours) in [off - on for on, off in found]


def test_lights_are_cut_at_both_ends_and_always_on_where_on_is_off() -> None:
    end = START + 24 * HOUR
    assert photoperiods(START, end, OSLO, time(6), time(18)) == [
        (START, datetime(2026, 11, 24, 17, tzinfo=UTC)),
        (datetime(2026, 11, 25, 5, tzinfo=UTC), end),
    ]
    assert photoperiods(START, end, OSLO, time(6), time(6)) == [(START, end)]


def test_a_forecast_begins_where_now_is_with_the_area_of_its_interval_and_ends_at_the_plane() -> None:
    plan = replace(PLAN, ahead=6 * HOUR)
    end = PLAN.end
    points = [(end, 100.0, 90.0, 110.0), (end + 6 * HOUR, 190.0, 150.0, 500.0)]
    told, other = Ahead("a", points, "+40 mbar a day", True), Ahead("b", points, "", False)
    series = [Series("a", "Pot 1", _values(100.0)), Series("b", "Pot 2", _values(100.0))]
    drawn = chart(plan, series, (), [told, other])
    (coming,) = drawn.coming
    assert drawn.now == 80.0
    assert _numbers(coming.path) == [("M", 800.0, 130.0), ("L", 1000.0, 13.0)]
    assert min(y for _, _, y in _numbers(coming.area)) == 0.0, "what goes beyond the plane is drawn at its edge"
    assert drawn.name_of(coming.id) == "Pot 1"
    assert [one.id for one in chart(plan, series[1:], (), [other]).coming] == ["b"], "alone, a line shows its own"
    assert chart(PLAN, series).now is None


def test_a_chart_is_told_in_a_sentence_to_those_who_do_not_see_it() -> None:
    drawn: Chart = chart(PLAN, [Series("a", "Pot 1", _values(80.0, 90.0)), Series("b", "Pot 2", _values(190.0), "dry")])
    assert drawn.summary == "2 lines, last values 90 to 190 mbar; Pot 2 dry at 190 mbar"
    alone = chart(replace(PLAN, unit="l"), [Series("a", "East", _values(80.0, 60.0))])
    assert alone.summary == "East: 60 to 80 l, last 60 l"
