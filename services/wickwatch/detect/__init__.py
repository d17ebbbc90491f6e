"""From windows of readings to findings: pure, deterministic, no database, clock or network."""

from wickwatch.detect.due import due
from wickwatch.detect.finding import Finding, Judgement, Key, Value
from wickwatch.detect.frame import Frame, Grid
from wickwatch.detect.settled import NO_PROBE, SILENT, Settled, settled
from wickwatch.detect.settling import settles_for
from wickwatch.detect.sweep import sweep

__all__ = [
    "NO_PROBE",
    "SILENT",
    "Finding",
    "Frame",
    "Grid",
    "Judgement",
    "Key",
    "Settled",
    "Value",
    "due",
    "settled",
    "settles_for",
    "sweep",
]
