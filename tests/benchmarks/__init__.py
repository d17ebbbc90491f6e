"""How fast and how large: each module has `run(scale) -> list[Figure]`, measured on real parts.

`python -m tests.benchmarks [MODULE …] [--scale 0.1]` prints the figures as a table. Not here: what must hold (that is
a test), nor how well detectors judge (that is evaluation).
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Figure:
    """One measured number, with what it was measured on."""

    what: str
    value: float
    unit: str
    note: str = ""
