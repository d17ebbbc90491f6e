"""The topics that gateways publish on, taken apart: `wickwatch/1/{facility}/{gateway}/senml`, `senml-cbor`, `status`.

Not here: topics going out to beacons and panels; those are the notifier's.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from functools import lru_cache
from typing import Literal, NamedTuple

from wickwatch.ingest.forms import Form
from wickwatch.ingest.reasons import PackRefused, shown

Kind = Literal["senml", "senml-cbor", "status"]

#: Filters subscribed to (MQTT 4.7): packs and the gateways' birth and will messages.
PACK_FILTERS = ("wickwatch/1/+/+/senml", "wickwatch/1/+/+/senml-cbor")
STATUS_FILTER = "wickwatch/1/+/+/status"

#: Form of the packs by the last level of their topic.
FORMS: Mapping[str, Form] = {"senml": "json", "senml-cbor": "cbor"}

SLUG = "[a-z0-9][a-z0-9-]{0,62}"
# What goes out to beacons has `alarms` in the gateway's place and a room, whatever it is called, in the last.
_TOPIC = re.compile(f"wickwatch/1/({SLUG})/(?!alarms/)({SLUG})/(senml|senml-cbor|status)")


class Address(NamedTuple):
    """Who published, by the slugs in the topic, and what."""

    facility: str
    gateway: str
    kind: Kind


@lru_cache(4096)  # gateways repeat theirs with every pack
def address(topic: str) -> Address:
    """Take a topic apart. Raises PackRefused for any other."""
    match = _TOPIC.fullmatch(topic)
    if match is None:
        raise PackRefused("topic", f"topic {shown(topic)}")
    return Address(match[1], match[2], match[3])  # type: ignore[arg-type]
