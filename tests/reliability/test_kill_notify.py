"""Notify is killed again and again while notices leave over each way: none is lost, none comes twice without a crash.

Kills come at random moments (a fixed seed), and at each named point between two steps. Not here: crashes of the watch
that queues notices.
"""

from __future__ import annotations

import os
import random
import signal
from collections import Counter
from collections.abc import Iterator

import pytest

from tests.integration.alarms.house import build, connect, rows
from tests.integration.notify.conftest import child, running
from tests.integration.notify.test_mail_arrives import more, raised, states
from tests.integration.notify.ways import WAYS, Way, on_call_by, open_way
from tests.parts.process import wait_until
from wickwatch.notify.process import WORKERS
from wickwatch.store.connect import Connection

NOTICES = 400
KILLS = 30


@pytest.fixture
def house(plain_url: str) -> Iterator[Connection]:
    with connect(plain_url) as connection:
        build(connection)
        yield connection


@pytest.fixture(params=WAYS)
def way(request: pytest.FixtureRequest) -> Iterator[Way]:
    with open_way(request.param) as opened:
        yield opened


@pytest.mark.timeout(600)
def test_killing_it_at_random_loses_nothing_and_each_kill_costs_at_most_what_was_under_way(
    house: Connection,
    plain_url: str,
    way: Way,
) -> None:
    chance = random.Random(len(way.way))
    on_call_by(house, "Ane", way)
    raised(house)
    more(house, NOTICES - 1, way.way, way.address)
    house.execute("UPDATE notice SET contact_id = (SELECT id FROM contact)")
    smtp_url = way.settings.get("smtp_url", "")
    done = "SELECT count(*) FROM notice WHERE state = 'sent'"
    for number in range(KILLS):
        goal = NOTICES * (number + 1) // (KILLS + 1) + chance.randrange(5)
        with child(plain_url, smtp_url, way=way.way) as process:
            wait_until(lambda goal=goal: rows(house, done)[0][0] >= goal, "some have left", 60)
            os.kill(process.pid, signal.SIGKILL)
            process.wait()
    with child(plain_url, smtp_url, way=way.way):
        wait_until(lambda: set(states(house)) == {"sent"}, "all have left", 60)
    arrived = Counter(way.references())
    assert len(arrived) == NOTICES
    assert max(arrived.values()) <= 1 + KILLS
    assert arrived.total() - NOTICES <= KILLS * WORKERS[way.way]


@pytest.mark.parametrize(
    ("point", "arrivals"),
    [("after the claim", 1), ("before sending", 1), ("after sending", 2), ("in the record's transaction", 2)],
)
def test_killing_it_between_two_steps_costs_at_most_one_duplicate(
    house: Connection,
    plain_url: str,
    way: Way,
    point: str,
    arrivals: int,
) -> None:
    on_call_by(house, "Ane", way)
    raised(house)
    with child(plain_url, way.settings.get("smtp_url", ""), point, way.way) as process:
        process.wait(30)
        assert process.returncode == -signal.SIGKILL
    assert states(house) == ["queued"]
    with running(plain_url, **way.settings):
        wait_until(lambda: states(house) == ["sent"], "it is sent when the claim has run out", 30)
    assert len(way.references()) == arrivals and len(set(way.references())) == 1
