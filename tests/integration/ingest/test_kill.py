"""A short run of what `make reliability` does at length: ingest and database killed while readings flow."""

from __future__ import annotations

import pytest

from tests.parts import plain
from tests.reliability.flow import flowing


@pytest.mark.timeout(180)
def test_killing_ingest_and_database_once_loses_no_reading_and_stores_none_twice() -> None:
    with flowing(plain.binaries(), 10_000, 2_000) as flow:
        flow.when_sent(0.3)
        flow.kill_ingest()
        flow.when_sent(0.6)
        flow.kill_database()
        flow.finish()
        assert (flow.lost(), flow.twice(), flow.disputed()) == (0, 0, 0)
        assert flow.stored() == flow.expected == 10_000
