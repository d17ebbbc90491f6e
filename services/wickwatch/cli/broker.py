"""Whether the broker can be reached and takes our sign-in; nothing is published.

Not here: the session that takes readings (`ingest.session`).
"""

from __future__ import annotations

import ssl
import threading
from typing import Any

from paho.mqtt.client import Client
from paho.mqtt.enums import CallbackAPIVersion

from wickwatch.urls import Endpoint


def connects(broker: Endpoint, patience_s: float) -> str | None:
    """Connect once and leave; why it failed, or `None`."""
    answered = threading.Event()
    refusal: list[str] = []

    def on_connect(client: Client, userdata: Any, flags: Any, code: Any, properties: Any) -> None:
        if code.is_failure:
            refusal.append(f"refused: {code}")
        answered.set()

    client = Client(CallbackAPIVersion.VERSION2, client_id="", clean_session=True)
    client.username_pw_set(broker.username, broker.password)
    if broker.tls:
        client.tls_set_context(ssl.create_default_context())
    client.on_connect = on_connect
    client.connect_timeout = patience_s
    try:
        client.connect(broker.host, broker.port)
    except (OSError, ValueError) as error:
        return str(error)
    client.loop_start()
    try:
        if not answered.wait(patience_s):
            return f"no answer within {patience_s:g} s"
        return refusal[0] if refusal else None
    finally:
        client.disconnect()
        client.loop_stop()
