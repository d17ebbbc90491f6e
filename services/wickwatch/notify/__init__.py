"""The process that carries queued notices to people, and the state of alarms to beacons."""

from wickwatch.notify.process import run

__all__ = ["run"]
