"""200,000 readings flow while ingest, broker and database are killed in turn: none is lost, none is there twice."""

from __future__ import annotations

import pytest

from tests.parts import plain, timescale
from tests.parts.postgres import Binaries
from tests.reliability.flow import flowing

READINGS = 200_000
PER_SECOND = 4_000


@pytest.mark.timeout(600)
@pytest.mark.parametrize("binaries", [timescale.binaries, plain.binaries], ids=["timescale", "plain"])
def test_killing_each_part_in_turn_loses_no_reading_and_stores_none_twice(binaries: object) -> None:
    with flowing(_made(binaries), READINGS, PER_SECOND) as flow:
        kills = (flow.kill_ingest, flow.kill_broker, flow.kill_database)
        for number, kill in enumerate(kills * 3):
            flow.when_sent((number + 1) / (len(kills) * 3 + 1))
            kill()
        flow.finish()
        assert (flow.lost(), flow.twice(), flow.disputed()) == (0, 0, 0)
        assert flow.stored() == flow.expected == READINGS


def _made(binaries: object) -> Binaries:
    assert callable(binaries)
    made = binaries()
    assert isinstance(made, Binaries)
    return made
