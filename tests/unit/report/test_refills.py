"""Refills seen in the level against those written down."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from types import SimpleNamespace
from typing import Any, cast
from uuid import UUID, uuid4

import numpy as np

from wickwatch.detect.layout import Layout
from wickwatch.fleet import Work
from wickwatch.report.refills import fillings
from wickwatch.report.used import Refill

NOON = datetime(2026, 11, 18, 12, 0, tzinfo=UTC)
EAST, WEST = uuid4(), uuid4()


def place() -> Layout:
    """Two reservoirs; nothing else of a place is looked at."""
    return cast(Layout, SimpleNamespace(reservoirs=(SimpleNamespace(id=EAST), SimpleNamespace(id=WEST))))


def seen(reservoir: int, after: timedelta, litres: float = 100.0) -> Refill:
    """A rise of half an hour."""
    start = np.datetime64((NOON + after).replace(tzinfo=None), "us")
    return Refill(reservoir, start, start + np.timedelta64(30, "m"), litres)


def wrote(reservoir: UUID, after: timedelta, kind: str = "refilled", person: str = "Mara") -> Work:
    """A work entry."""
    return Work(uuid4(), kind, "reservoir", reservoir, None, NOON + after, person)


def told(refills: list[Refill], work: list[Work]) -> list[tuple[Any, ...]]:
    """Each refill as (reservoir, how it is known, by whom)."""
    return [(each.reservoir, each.told, each.person) for each in fillings(place(), refills, work)]


def test_a_rise_and_an_entry_near_it_are_one_refill() -> None:
    found = told([seen(0, timedelta())], [wrote(EAST, timedelta(minutes=40))])
    assert found == [(0, "seen and recorded", "Mara")]


def test_a_rise_that_nobody_wrote_down_is_told() -> None:
    assert told([seen(0, timedelta())], [wrote(WEST, timedelta(), "checked")]) == [(0, "seen, not recorded", None)]


def test_an_entry_without_a_rise_is_told() -> None:
    work = [wrote(WEST, timedelta()), wrote(EAST, timedelta(hours=9))]
    assert told([seen(0, timedelta())], work) == [
        (0, "seen, not recorded", None),
        (1, "recorded, not seen", "Mara"),
        (0, "recorded, not seen", "Mara"),
    ]


def test_each_entry_tells_of_one_rise_only() -> None:
    refills = [seen(0, timedelta()), seen(0, timedelta(hours=1))]
    assert [each[1] for each in told(refills, [wrote(EAST, timedelta(minutes=30))])] == [
        "seen and recorded",
        "seen, not recorded",
    ]
