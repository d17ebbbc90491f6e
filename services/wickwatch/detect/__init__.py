"""From windows of readings to findings: pure, deterministic, no database, clock or network."""

from wickwatch.detect.due import due
from wickwatch.detect.finding import KINDS, Finding, Judgement, Key, Kind, Value
from wickwatch.detect.frame import Frame, Grid
from wickwatch.detect.settled import NO_PROBE, SILENT, Settled, settled
from wickwatch.detect.settling import settles_for
from wickwatch.detect.sweep import sweep

__all__ = [
    "KINDS",
    "NO_PROBE",
    "SILENT",
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
    "settles_for",
    "sweep",
]
