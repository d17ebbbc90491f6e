"""The tests' own servers are what they claim to be; a test on a wrong broker or database would prove nothing."""

from __future__ import annotations

import smtplib
import threading
import urllib.request

import paho.mqtt.client as mqtt
import psycopg
import pytest

from tests.parts import broker as broker_part
from tests.parts import plain
from tests.parts.broker import Broker
from tests.parts.mail import Mailbox
from tests.parts.postgres import running
from tests.parts.process import wait_until
from tests.parts.webhook import Receiver


def _client(broker: Broker, account: str, session: str = "") -> mqtt.Client:
    client = mqtt.Client(mqtt.CallbackAPIVersion.VERSION2, session, clean_session=not session, protocol=mqtt.MQTTv311)
    client.username_pw_set(account, broker_part.password(account))
    client.connect(broker.host, broker.port)
    client.loop_start()
    wait_until(client.is_connected, f"{account} connected")
    return client


def _subscribe(client: mqtt.Client) -> list[str]:
    topics: list[str] = []
    subscribed = threading.Event()
    client.on_message = lambda _client, _data, message: topics.append(message.topic)
    client.on_subscribe = lambda *_: subscribed.set()
    client.subscribe("wickwatch/1/#", qos=1)
    assert subscribed.wait(5)
    return topics


def test_a_gateway_publishes_only_under_its_own_topic_and_reads_nothing(broker: Broker) -> None:
    services, listener = _client(broker, broker_part.SERVICES), _client(broker, "birchwood/gw-01")
    heard, overheard = _subscribe(services), _subscribe(listener)
    gateway = _client(broker, "birchwood/gw-01")
    for topic in ("gw-02/senml", "gw-01x/senml", "alarms/room-03", "gw-01/senml"):
        gateway.publish(f"wickwatch/1/birchwood/{topic}", b"[]", qos=1).wait_for_publish(5)
    wait_until(lambda: bool(heard), "the gateway's own message heard")
    services.publish("wickwatch/1/birchwood/alarms/room-03", b"{}", qos=1).wait_for_publish(5)
    wait_until(lambda: len(heard) == 2, "the services' message heard by themselves")
    assert heard == ["wickwatch/1/birchwood/gw-01/senml", "wickwatch/1/birchwood/alarms/room-03"]
    assert overheard == []
    for client in (services, listener, gateway):
        client.disconnect()
        client.loop_stop()


def test_a_broker_stopped_in_good_order_keeps_every_queued_message(broker: Broker) -> None:
    services = _client(broker, broker_part.SERVICES, session="away")
    _subscribe(services)
    services.disconnect()
    services.loop_stop()
    gateway = _client(broker, "birchwood/gw-01")
    sent = [gateway.publish("wickwatch/1/birchwood/gw-01/senml", b"[]", qos=1) for _ in range(3000)]
    for message in sent:
        message.wait_for_publish(20)
    gateway.disconnect()
    gateway.loop_stop()
    broker.stop()
    broker.start()
    back = mqtt.Client(mqtt.CallbackAPIVersion.VERSION2, "away", clean_session=False)
    back.username_pw_set(broker_part.SERVICES, broker_part.password(broker_part.SERVICES))
    received: list[str] = []
    back.on_message = lambda _client, _data, message: received.append(message.topic)
    back.connect(broker.host, broker.port)
    back.loop_start()
    wait_until(lambda: len(received) == 3000, "all 3000 queued messages delivered")
    back.disconnect()
    back.loop_stop()


def test_an_unknown_account_is_turned_away(broker: Broker) -> None:
    client = mqtt.Client(mqtt.CallbackAPIVersion.VERSION2)
    client.username_pw_set("birchwood/gw-99", "wrong")
    answers: list[str] = []
    client.on_connect = lambda _client, _data, _flags, reason, _properties: answers.append(str(reason))
    client.connect(broker.host, broker.port)
    client.loop_start()
    wait_until(lambda: bool(answers), "an answer to the connection")
    client.loop_stop()
    assert answers[0] == "Not authorized"


def test_a_killed_database_keeps_what_was_committed() -> None:
    with running(plain.binaries()) as server:
        with psycopg.connect(server.url()) as connection:
            connection.execute("CREATE TABLE kept AS SELECT generate_series(1, 1000) AS n")
        server.kill()
        with pytest.raises(psycopg.OperationalError):
            psycopg.connect(server.url(), connect_timeout=2)
        server.start()
        with psycopg.connect(server.url()) as connection:
            assert connection.execute("SELECT count(*) FROM kept").fetchone() == (1000,)


def test_each_test_gets_a_migrated_database_of_its_own(database_url: str) -> None:
    with psycopg.connect(database_url) as connection:
        assert connection.execute("SELECT count(*) FROM facility").fetchone() == (0,)
        connection.execute("INSERT INTO facility (slug, name, zone) VALUES ('birchwood', 'Birchwood House', 'UTC')")


def test_readings_are_a_hypertable_where_the_extension_is(timescale_url: str) -> None:
    with psycopg.connect(timescale_url) as connection:
        row = connection.execute("SELECT hypertable_name FROM timescaledb_information.hypertables").fetchone()
    assert row == ("reading",)


def test_the_mail_server_keeps_what_it_takes_and_counts_what_it_refuses(mailbox: Mailbox) -> None:
    with smtplib.SMTP(mailbox.host, mailbox.port) as smtp:
        smtp.sendmail("watch@example.org", ["duty@example.org"], "Subject: Grüße\r\n\r\nlow water\r\n".encode())
        mailbox.refusal = "451 try later"
        with pytest.raises(smtplib.SMTPDataError):
            smtp.sendmail("watch@example.org", ["duty@example.org"], "Subject: b\r\n\r\nx\r\n")
    (taken,) = mailbox.wait_for(1)
    assert (taken.recipients, taken.text.strip(), mailbox.refused) == (("duty@example.org",), "low water", 1)


def test_the_receiver_keeps_body_and_headers(receiver: Receiver) -> None:
    request = urllib.request.Request(receiver.url + "hook", data=b'{"a": 1}', headers={"X-Key": "k1"})
    with urllib.request.urlopen(request, timeout=5) as answer:
        assert answer.status == 204
    (call,) = receiver.wait_for(1)
    assert (call.method, call.path, call.headers["x-key"], call.json) == ("POST", "/hook", "k1", {"a": 1})
