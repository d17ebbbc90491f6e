"""A report of a simulated week against what really happened in it, and against other ways to compute its figures."""

from __future__ import annotations

import numpy as np
import pandas as pd
import psycopg
import pytest
from scipy import stats

from tests.integration.report.true_week import DRIFTS, TrueWeek
from wickwatch.report import data

# Share of time in band of each container, from the readings themselves.
_IN_BAND = """
SELECT k.id, avg((b.value >= 60 AND b.value <= 180)::int) FROM (
    SELECT channel_id, date_bin('5 minutes', at, 'epoch') AS bucket, avg(value)::real AS value
    FROM reading WHERE at >= %(start)s AND at < %(end)s GROUP BY 1, 2) b
JOIN assignment a ON a.channel_id = b.channel_id AND a.quantity = 'tension' AND NOT a.twin
JOIN container k ON k.id = a.container_id GROUP BY k.id
"""

# Every reading of tension of a span, by container.
_TENSION = """
SELECT a.container_id, r.at, r.value FROM reading r JOIN assignment a ON a.channel_id = r.channel_id
WHERE a.quantity = 'tension' AND NOT a.twin AND r.at >= %(start)s AND r.at < %(end)s
"""


def frame(week: TrueWeek, statement: str) -> pd.DataFrame:
    """Rows of a statement over the week."""
    span = {"start": week.facts.week.start, "end": week.facts.week.end}
    with psycopg.connect(week.url) as conn:
        return pd.DataFrame(conn.execute(statement.encode(), span).fetchall())


def test_water_used_is_the_true_draw_within_two_per_cent(week: TrueWeek) -> None:
    used, drawn = week.facts.water.used.litres, week.truth.drawn_l
    assert used.sum() == pytest.approx(drawn.sum(), rel=0.02)
    assert used == pytest.approx(drawn, rel=0.02)


def test_time_in_band_is_the_true_one_within_a_point(week: TrueWeek) -> None:
    tension, plans = np.concatenate(week.truth.tension_mbar), week.simulation.world.container_plans
    wet, dry = week.simulation.limits
    weight = np.array([plan.stands_for for plan in plans[: tension.shape[1]]])
    inside = ((tension >= wet) & (tension <= dry)).mean(axis=0)
    assert week.facts.tension.band.share() == pytest.approx((inside * weight).sum() / weight.sum(), abs=0.01)


def test_every_drift_is_among_the_first_five_of_its_room(week: TrueWeek) -> None:
    place = week.facts.place
    slugs = [room.slug for room in place.rooms]
    for room, pot in DRIFTS:
        plan = week.simulation.world.room_plans[room - 1]
        inside = np.flatnonzero(place.room_of == slugs.index(plan.slug))
        first = [place.containers[number].slug for number in week.facts.drift.ranked(inside)[:5]]
        assert plan.containers[pot - 1].slug in first


def test_every_true_refill_is_seen_with_its_litres_and_nothing_else_is(week: TrueWeek) -> None:
    start, end = week.facts.week.start.timestamp(), week.facts.week.end.timestamp()
    true = sorted((each.at_s, each.litres) for each in week.simulation.refills if start <= each.at_s < end)
    seen = week.facts.water.used.refills
    assert len(seen) == len(true) > 0
    for refill, (at_s, litres) in zip(seen, true, strict=True):
        # Within the window in which a rise is looked for.
        assert abs(refill.start.astype("datetime64[s]").astype(int) - at_s) <= 1800
        assert refill.litres == pytest.approx(litres, rel=0.03)


def test_time_in_band_is_what_sql_says_over_the_readings(week: TrueWeek) -> None:
    by_sql = frame(week, _IN_BAND).set_index(0)[1].astype(float)
    band = week.facts.tension.band
    assert len(by_sql) == len(week.facts.place.containers)
    for number, container in enumerate(week.facts.place.containers):
        assert band.inside[number] / band.measured[number] == pytest.approx(by_sql[container.id], abs=1e-9)


def test_medians_of_rooms_and_days_are_what_pandas_says_over_the_readings(week: TrueWeek) -> None:
    readings = frame(week, _TENSION).set_axis(["container", "at", "value"], axis=1)
    room = {
        each.id: int(number) for each, number in zip(week.facts.place.containers, week.facts.place.room_of, strict=True)
    }
    at = pd.to_datetime(readings["at"], utc=True)
    bucket = readings.assign(bucket=at.dt.floor("5min")).groupby(["container", "bucket"])["value"].mean().reset_index()
    bucket["day"] = bucket["bucket"].dt.tz_convert("Europe/Oslo").dt.day_of_week
    bucket["room"] = bucket["container"].map(room)
    by_pandas = bucket.groupby(["room", "day"])["value"].quantile([0.1, 0.5, 0.9]).to_numpy().reshape(-1, 7, 3)
    assert week.facts.tension.room_daily_mbar == pytest.approx(by_pandas, abs=0.01)


def test_a_drift_is_the_theil_sen_slope_that_scipy_finds_over_days(week: TrueWeek) -> None:
    readings = frame(week, _TENSION).set_axis(["container", "at", "value"], axis=1)
    hour = pd.to_datetime(readings["at"], utc=True).dt.floor("h")
    hourly = readings.assign(hour=hour).groupby(["container", "hour"])["value"].mean().unstack()
    for number in np.flatnonzero(week.facts.drift.sure):
        days = hourly.loc[week.facts.place.containers[number].id].to_numpy()[-168:].reshape(7, 24)
        daily = np.nanmedian(days - np.nanmedian(days, axis=0), axis=1)
        found = stats.theilslopes(daily, np.arange(7.0)).slope
        assert week.facts.drift.slope.value[number] == pytest.approx(found, abs=0.05)


def test_the_tables_hold_the_same_figures(week: TrueWeek) -> None:
    tables = {file.name: file.body for file in data(week.facts)}
    csv = pd.read_csv(pd.io.common.BytesIO(tables["alderholm-2026-W11-reservoirs.csv"]))
    parquet = pd.read_parquet(pd.io.common.BytesIO(tables["alderholm-2026-W11-reservoirs.parquet"]))
    assert csv["used_l"].to_numpy() == pytest.approx(week.facts.water.used.litres)
    assert parquet["used_l"].to_numpy() == pytest.approx(week.facts.water.used.litres)
