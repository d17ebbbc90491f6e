"""The parts that make `demo` and `run` work with nothing else installed, all on loopback.

A PostgreSQL, an MQTT broker, and a mail server that only keeps what it gets.

Not here: what they are used for. A real server named by a setting takes their place without any other change.
"""

from wickwatch.embedded.broker import Broker
from wickwatch.embedded.mailbox import Mailbox
from wickwatch.embedded.postgres import Postgres

__all__ = ["Broker", "Mailbox", "Postgres"]
