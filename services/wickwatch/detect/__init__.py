"""From windows of readings to findings: pure, deterministic, no database, clock or network."""

from wickwatch.detect.due import due
from wickwatch.detect.finding import KINDS, Finding, Judgement, Key, Kind, Value
from wickwatch.detect.frame import Frame, Grid
from wickwatch.detect.settled import Settled, settled
from wickwatch.detect.sweep import sweep

__all__ = [
    "KINDS",
    "Finding",
    "Frame",
    "Grid",
    "Judgement",
    "Key",
    "Kind",
    "Settled",
    "Value",
    "due",
    "settled",
    "sweep",
]
