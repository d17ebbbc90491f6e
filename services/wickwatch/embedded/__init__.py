"""The parts that make `demo` and `run` work with nothing else installed: a PostgreSQL and an MQTT broker on loopback.

Not here: what they are used for. A real server named by a setting takes their place without any other change.
"""

from wickwatch.embedded.broker import Broker
from wickwatch.embedded.postgres import Postgres

__all__ = ["Broker", "Postgres"]
