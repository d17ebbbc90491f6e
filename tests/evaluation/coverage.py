"""Do 80 % intervals hold? Forecasts beside what came of them.

A forecast is compared if nothing was done in between that it could not know: no refill before the reservoir ran dry,
no fault or help that began later. Not here: making forecasts (`foresight`).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from tests.evaluation.evaluate import Judged
from tests.evaluation.foresight import WITHIN_H, Foresight

#: Faults that take water from a reservoir, or keep it from its pots: a forecast made before one can't know it.
_CHANGES = (
    "stuck-open",
    "reservoir-leak",
    "closed-valve",
    "air-lock",
    "stuck-level",
    "photoperiod-change",
    "uneven-room",
)


@dataclass(frozen=True)
class Coverage:
    """`share` of forecasts whose interval held, of so many, about so many events; `ratios` of what came to expected."""

    share: float | None
    forecasts: int
    events: int
    ratios: Sequence[float]
    below: int
    above: int


def coverage(judged: Sequence[Judged], what: str) -> Coverage:
    """Coverage of one sort of forecast."""
    pairs = [pair for each in judged for pair in _pairs(each, what)]
    below = sum(came < seen.low for seen, came in pairs)
    above = sum(came > seen.high for seen, came in pairs)
    share = 1.0 - (below + above) / len(pairs) if pairs else None
    events = {(seen.facility, seen.room, seen.subject, seen.at + timedelta(hours=came)) for seen, came in pairs}
    ratios = [came / seen.hours for seen, came in pairs if 0.0 < seen.hours < 1e6]
    return Coverage(share, len(pairs), len(events), ratios, below, above)


def _pairs(judged: Judged, what: str) -> list[tuple[Foresight, float]]:
    """Forecasts with the hours after which it really happened."""
    truth: dict[tuple[str, str, str], list[Mapping[str, Any]]] = {}
    for record in judged.truth:
        truth.setdefault((str(record["facility"]), str(record["room"]), str(record["subject"])), []).append(record)
    by_room: dict[tuple[str, str], list[Mapping[str, Any]]] = {}
    for record in judged.truth:
        by_room.setdefault((str(record["facility"]), str(record["room"])), []).append(record)
    pairs = []
    for seen in judged.foresight:
        if seen.what != what:
            continue
        here = truth.get((seen.facility, seen.room, seen.subject), [])
        came = _empty(seen, here) if what == "empty" else _dry(seen, here)
        if came is None:
            continue
        changes = [at for each in by_room[seen.facility, seen.room] for at in _changes(each)]
        if not any(seen.at - timedelta(hours=6) < at < seen.at + timedelta(hours=came) for at in changes):
            pairs.append((seen, came))
    return pairs


def _changes(record: Mapping[str, Any]) -> list[datetime]:
    """When something began or ended that no forecast knows."""
    if record["event"] not in _CHANGES:
        return []
    return [at for key in ("from", "to") if (at := _moment(record[key])) is not None]


def _empty(seen: Foresight, here: Sequence[Mapping[str, Any]]) -> float | None:
    onsets = [_moment(each["detail"]["onset"]) for each in here if each["event"] in ("ran-dry", "empty-reservoir")]
    ahead = [at for at in onsets if at is not None and at > seen.at]
    if not ahead or (hours := (min(ahead) - seen.at) / timedelta(hours=1)) > WITHIN_H:
        return None
    refills = [_moment(each["from"]) for each in here if each["event"] == "refill"]
    return None if any(at is not None and seen.at - timedelta(hours=1) < at < min(ahead) for at in refills) else hours


def _dry(seen: Foresight, here: Sequence[Mapping[str, Any]]) -> float | None:
    for each in here:
        at = _moment(each["detail"].get("dry_limit_at"))
        begin = _moment(each["from"])
        if each["event"] in ("drifting", "clogged") and at and begin and begin < seen.at < at:
            return (at - seen.at) / timedelta(hours=1)
    return None


def _moment(value: object) -> datetime | None:
    return None if value is None else datetime.fromisoformat(str(value))
