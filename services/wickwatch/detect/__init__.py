"""From windows of readings to findings: pure, deterministic, no database, clock or network."""

from wickwatch.detect.due import due
from wickwatch.detect.finding import Finding, Judgement, Key, Value
from wickwatch.detect.frame import Frame, Grid
from wickwatch.detect.settled import Settled, no_probe, settled, silent
from wickwatch.detect.settling import settles_for
from wickwatch.detect.sweep import sweep

__all__ = [
    "Finding",
    "Frame",
    "Grid",
    "Judgement",
    "Key",
    "Settled",
    "Value",
    "due",
    "no_probe",
    "settled",
    "settles_for",
    "silent",
    "sweep",
]
