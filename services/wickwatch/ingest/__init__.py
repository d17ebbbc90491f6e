"""The process that takes readings from the broker into the database."""

from wickwatch.ingest.again import Again, try_again
from wickwatch.ingest.process import run
from wickwatch.ingest.taking import Taken, take

__all__ = ["Again", "Taken", "run", "take", "try_again"]
