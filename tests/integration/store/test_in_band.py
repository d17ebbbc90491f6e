"""How much of a span probes were in their band, asked of the database."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import psycopg
import pytest

from tests.builders import place
from wickwatch.store.pages import Probe, in_band

NOW = datetime(2026, 11, 25, 9, tzinfo=UTC)
HOUR = timedelta(hours=1)


def test_hours_in_band_are_counted_by_group_and_by_how_many_each_probe_speaks_for(database_url: str) -> None:
    with psycopg.connect(database_url, options="-c timezone=UTC") as conn:
        facility = place.facility(conn)
        room = place.room(conn, facility)
        first, second = (place.container(conn, room, slug) for slug in ("pot-01", "pot-02"))
        # Four hours of which three lie in the band; and four of which none does, the last two before it stood there.
        inside = [(NOW - number * HOUR, 200.0 if number == 1 else 100.0) for number in range(1, 5)]
        outside = [(NOW - number * HOUR, 300.0) for number in range(1, 5)]
        channels = [
            place.measured(conn, facility, "container", first, inside, NOW - 10 * HOUR),
            place.measured(conn, facility, "container", second, outside, NOW - 2 * HOUR),
        ]
        probes = [Probe(0, channels[0], 60.0, 180.0, 1), Probe(0, channels[1], 60.0, 180.0, 3)]
        assert in_band(conn, probes[:1], NOW - 24 * HOUR, NOW) == {0: pytest.approx(3 / 4)}
        assert in_band(conn, probes, NOW - 24 * HOUR, NOW) == {0: pytest.approx(3 / (4 + 2 * 3))}
        assert in_band(conn, probes[:1], NOW - HOUR, NOW) == {0: 0.0}
        apart = [probes[0], Probe(1, channels[1], 60.0, 400.0, 3), Probe(2, 10_000, 0.0, 1.0, 1)]
        assert in_band(conn, apart, NOW - 24 * HOUR, NOW) == {0: pytest.approx(3 / 4), 1: 1.0}
        assert in_band(conn, [], NOW - 24 * HOUR, NOW) == {}
