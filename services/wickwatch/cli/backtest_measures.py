"""How the alarms of a backtest would have served, and what a changed rule does to that, as a table or as JSON.

A backtest has nobody to say "mine", so what measures answers is left out. Not here: the measures (`alarms.measures`).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from wickwatch.alarms.measures import Measures
    from wickwatch.alarms.measures_targets import Line

_ANSWERS = ("to_acknowledge", "unanswered")


@dataclass(frozen=True)
class Measured:
    """A facility's measures under the rules of this run, and as its rules are where others were set for it."""

    facility: str
    now: Measures
    before: Measures | None


def print_measures(facilities: Sequence[Measured], rules: Sequence[str]) -> None:
    """A table for each facility: each measure beside its target and that one's source."""
    for each in facilities:
        print(f"\n{each.facility}, {each.now.start:%Y-%m-%d %H:%M} to {each.now.end:%Y-%m-%d %H:%M} UTC")
        heads = [
            "measure",
            *(["rules as they are"] if each.before else []),
            ", ".join(rules) or "value",
            "aim",
            "source",
        ]
        rows = [
            [line.label, *([before.shown] if before else []), line.shown, line.target or "–", line.source]
            for line, before in _pairs(each)
        ]
        widths = [max(len(row[n]) for row in [heads, *rows]) for n in range(len(heads))]
        for row in [heads, *rows]:
            print("  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip())


def as_json(facilities: Sequence[Measured], rules: Sequence[str]) -> Iterator[dict[str, object]]:
    """An object for each facility; `as_it_is` is the value without the rules set for this run, where some were."""
    for each in facilities:
        yield {
            "facility": each.facility,
            "from": each.now.start.isoformat(),
            "to": each.now.end.isoformat(),
            "set": list(rules),
            "measures": [
                {
                    "name": line.name,
                    "value": line.value,
                    **({"as_it_is": before.value} if before else {}),
                    "unit": line.unit,
                    "target": line.target,
                    "source": line.source,
                    "met": line.met,
                }
                for line, before in _pairs(each)
            ],
        }


def _pairs(each: Measured) -> list[tuple[Line, Line | None]]:
    """The lines of a run, each with the same one under the rules as they are."""
    from wickwatch.alarms.measures_targets import lines

    told = lines(each.now)
    before = lines(each.before) if each.before else [None] * len(told)
    return [(line, former) for line, former in zip(told, before, strict=True) if not line.name.startswith(_ANSWERS)]
