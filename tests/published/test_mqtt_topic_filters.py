"""Topic filters as MQTT 3.1.1 and 5.0 define them (OASIS, sect. 4.7), and ours by the same rules.

The published examples show that the broker client's `topic_matches_sub` follows the standard; the same function then
tells which topics our subscriptions bring.
"""

import pytest
from paho.mqtt.client import topic_matches_sub

from wickwatch.ingest.reasons import PackRefused
from wickwatch.ingest.topics import PACK_FILTERS, STATUS_FILTER, address

EXAMPLES = [
    # filter, topic, matches: OASIS MQTT 3.1.1 and 5.0, sect. 4.7.1.2, 4.7.1.3 and 4.7.2
    ("sport/tennis/player1/#", "sport/tennis/player1", True),
    ("sport/tennis/player1/#", "sport/tennis/player1/ranking", True),
    ("sport/tennis/player1/#", "sport/tennis/player2", False),
    ("sport/#", "sport", True),
    ("sport/tennis/+", "sport/tennis/player1", True),
    ("sport/tennis/+", "sport/tennis/player1/ranking", False),
    ("sport/+", "sport/", True),
    ("sport/+", "sport", False),
    ("+/+", "/finance", True),
    ("/+", "/finance", True),
    ("+", "/finance", False),
    ("#", "anything/but", True),
    ("#", "$SYS/x", False),
    ("+/monitor/Clients", "$SYS/monitor/Clients", False),
    ("$SYS/#", "$SYS/monitor/Clients", True),
    ("$SYS/monitor/+", "$SYS/monitor/Clients", True),
]


@pytest.mark.parametrize(("wanted", "topic", "matches"), EXAMPLES)
def test_the_clients_matching_is_the_standards(wanted: str, topic: str, matches: bool) -> None:
    assert topic_matches_sub(wanted, topic) is matches


@pytest.mark.parametrize("kind", ["senml", "senml-cbor", "status"])
def test_every_topic_taken_apart_is_brought_by_exactly_one_filter(kind: str) -> None:
    topic = f"wickwatch/1/birchwood/gw-01/{kind}"
    assert address(topic) == ("birchwood", "gw-01", kind)
    assert sum(topic_matches_sub(wanted, topic) for wanted in (*PACK_FILTERS, STATUS_FILTER)) == 1


@pytest.mark.parametrize(
    "topic",
    [
        "",
        "wickwatch/1/birchwood/senml",
        "wickwatch/1/birchwood/gw-01/senml/",
        "wickwatch/1/birchwood/gw-01/senml/more",
        "wickwatch/1/birchwood/gw-01/alarms",
        "wickwatch/1/birchwood/alarms/senml",  # what goes out about a room of that name
        "wickwatch/1/birchwood/gw-01/SENML",
        "wickwatch/2/birchwood/gw-01/senml",
        "wickwatch/1/Birchwood/gw-01/senml",
        "wickwatch/1/birchwood/gw 01/senml",
        "wickwatch/1/-birchwood/gw-01/senml",
        "wickwatch/1/birchwood//senml",
        "wickwatch/1/+/+/senml",
        "wickwatch/1/" + "b" * 64 + "/gw-01/senml",
        "wickwatch/1/birchwood/gw-01/senml\n",
        "/wickwatch/1/birchwood/gw-01/senml",
    ],
)
def test_any_other_topic_is_refused(topic: str) -> None:
    with pytest.raises(PackRefused) as caught:
        address(topic)
    assert caught.value.reason == "topic"


def test_the_longest_slugs_are_taken() -> None:
    assert address("wickwatch/1/" + "b" * 63 + "/0/status").facility == "b" * 63
