"""What a beacon is told of a room."""

from __future__ import annotations

import json
from dataclasses import replace

from tests.unit.alarms.places import HOUSE, Watch, found, pot, reservoir
from wickwatch.alarms import as_json
from wickwatch.notify.beacons import message, topic


def test_a_quiet_room_has_no_priority_and_an_empty_list() -> None:
    assert json.loads(message("birchwood", "room-03", [], {})) == {
        "facility": "birchwood",
        "room": "room-03",
        "priority": None,
        "alarms": [],
    }
    assert topic("birchwood", "room-03") == "wickwatch/1/birchwood/alarms/room-03"


def test_the_priority_is_the_highest_that_asks_for_somebody_and_every_open_alarm_is_listed() -> None:
    watch = Watch()
    watch.sweeps(
        0, 20, found("reservoir-empty", reservoir()), found("drying-drift", pot()), found("probe-fault", pot(2))
    )
    standing = list(watch.book.alarms.values())
    told = json.loads(message("birchwood", "room-03", standing, {}))
    assert told["priority"] == "high"
    assert told["alarms"] == [as_json(alarm, HOUSE) for alarm in standing]
    explained = [replace(alarm, priority="high") for alarm in standing if alarm.kind == "drying-drift"]
    assert json.loads(message("birchwood", "room-03", explained, {}))["priority"] is None
    low = [alarm for alarm in standing if alarm.kind == "probe-fault"]
    assert json.loads(message("birchwood", "room-03", low, {}))["priority"] == "low"
