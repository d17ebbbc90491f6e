"""What is retained on MQTT is what stands in the database, whatever happened in between."""

from __future__ import annotations

import json
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import UTC, datetime
from typing import Any

from paho.mqtt.client import Client, MQTTMessage
from paho.mqtt.enums import CallbackAPIVersion

from tests.integration.alarms.house import HERE, person, sweep
from tests.integration.notify.conftest import Running
from tests.integration.notify.test_mail_arrives import raised
from tests.parts.broker import Broker
from tests.parts.process import wait_until
from tests.parts.webhook import Receiver
from tests.unit.alarms.places import HOUSE
from wickwatch.alarms import Act, as_json
from wickwatch.detect.finding import Judgement
from wickwatch.store import alarms, jobs
from wickwatch.store.connect import Connection
from wickwatch.urls import MQTT_SCHEMES, endpoint

ROOM_3, ROOM_4 = "wickwatch/1/birchwood/alarms/room-03", "wickwatch/1/birchwood/alarms/room-04"
QUIET: dict[str, object] = {"facility": "birchwood", "room": "room-04", "priority": None, "alarms": []}


@contextmanager
def panel(broker: Broker) -> Iterator[dict[str, bytes]]:
    """The newest payload on each topic, as a panel on the wall would have it."""
    seen: dict[str, bytes] = {}
    ready = threading.Event()
    where = endpoint(broker.url(), MQTT_SCHEMES)
    client = Client(CallbackAPIVersion.VERSION2, client_id="panel")
    client.username_pw_set(where.username, where.password)

    def on_connect(client: Client, *rest: Any) -> None:
        client.subscribe("wickwatch/1/+/alarms/+", qos=1)
        ready.set()

    def on_message(client: Client, userdata: Any, message: MQTTMessage) -> None:
        seen[message.topic] = bytes(message.payload)

    client.on_connect, client.on_message = on_connect, on_message
    client.connect(where.host, where.port)
    client.loop_start()
    try:
        assert ready.wait(10)
        yield seen
    finally:
        client.disconnect()
        client.loop_stop()


def shows(seen: dict[str, bytes], topic: str, *states: str) -> bool:
    return bool(seen.get(topic)) and [each["state"] for each in json.loads(seen[topic])["alarms"]] == list(states)


def test_a_beacon_follows_an_alarm_through_its_life(conn: Connection, broker: Broker, notifying: Running) -> None:
    who = person(conn, "Ane")
    with notifying(mqtt_url=broker.url()), panel(broker) as seen:
        wait_until(lambda: shows(seen, ROOM_3) and shows(seen, ROOM_4), "quiet rooms show an empty list from the start")
        (alarm,) = raised(conn).alarms
        wait_until(lambda: shows(seen, ROOM_3, "unacknowledged"), "raised")
        assert json.loads(seen[ROOM_3]) == {
            "facility": "birchwood",
            "room": "room-03",
            "priority": "high",
            "alarms": [as_json(alarm, HOUSE)],
        }
        alarms.apply_event(conn, alarm.id, Act("acknowledge"), who, datetime.now(UTC), HERE)
        wait_until(lambda: shows(seen, ROOM_3, "acknowledged"), "acknowledged")
        smaller = replace(HOUSE, rooms=HOUSE.rooms[1:])
        sweep(conn, Judgement(datetime.now(UTC), frozenset({"sudden-wetting"})), place=smaller)
        wait_until(lambda: shows(seen, ROOM_3), "the pot left the fleet")
        assert json.loads(seen[ROOM_4]) == QUIET


def test_a_panel_that_comes_later_is_told_at_once_and_a_retired_room_is_taken_away(
    conn: Connection, broker: Broker, notifying: Running
) -> None:
    with notifying(mqtt_url=broker.url()), panel(broker) as seen:
        raised(conn)
        wait_until(lambda: shows(seen, ROOM_3, "unacknowledged"), "raised")
    with panel(broker) as later:
        wait_until(lambda: shows(later, ROOM_3, "unacknowledged"), "it is retained")
    conn.execute("UPDATE room SET retired_at = now() WHERE slug = 'room-03'")
    with notifying(mqtt_url=broker.url()), panel(broker) as seen:
        wait_until(lambda: seen.get(ROOM_3) == b"", "the room's topic is emptied")
    with panel(broker) as later:
        wait_until(lambda: ROOM_4 in later, "the other room is still told")
        assert ROOM_3 not in later


def test_after_a_broker_that_forgot_everything_all_rooms_are_told_again(
    conn: Connection, broker: Broker, notifying: Running
) -> None:
    with notifying(mqtt_url=broker.url()):
        raised(conn)
        with panel(broker) as seen:
            wait_until(lambda: shows(seen, ROOM_3, "unacknowledged"), "raised")
        broker.kill()
        for kept in (broker.home / "data").glob("*"):
            kept.unlink()
        broker.start()
        with panel(broker) as seen:
            wait_until(lambda: shows(seen, ROOM_3, "unacknowledged") and shows(seen, ROOM_4), "told again")


def test_the_heartbeat_leaves_while_every_part_is_alive(
    conn: Connection, receiver: Receiver, notifying: Running
) -> None:
    for part in ("ingest", "watch", "web"):
        jobs.beat(conn, part, "here:1")
    with notifying(heartbeat_url=receiver.url + "alive"):
        (call,) = receiver.wait_for(1)
    assert (call.method, call.path) == ("GET", "/alive")
