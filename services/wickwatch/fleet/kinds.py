"""The kinds of alarm, in the contract's words.

They stand in the lowest layer that must know them: a facility has its own text for a kind (`advice`), detectors find
conditions of one (`detect.finding`), and everything above speaks of both. Not here: what any kind means.
"""

from __future__ import annotations

from typing import Literal, get_args

Kind = Literal[
    "drying-drift",
    "sudden-wetting",
    "reservoir-low",
    "reservoir-empty",
    "reservoir-leak",
    "supply-interrupted",
    "uneven-room",
    "probe-silent",
    "probe-fault",
    "gateway-silent",
    "monitoring-stopped",
]

#: Every kind of finding and alarm.
KINDS: tuple[Kind, ...] = get_args(Kind)
