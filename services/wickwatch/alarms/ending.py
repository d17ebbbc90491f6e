"""How an alarm ended, in words: by which work and how long after it, or by itself.

Not here: whether it ended (`step`). The text names no clock time, so that it reads the same in every zone.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from wickwatch.alarms import verdict
from wickwatch.alarms.model import Alarm, Condition
from wickwatch.alarms.words import lasting
from wickwatch.fleet import Kind, Work

#: What is true again once a condition is gone.
AGAIN: Mapping[Kind, str] = {
    "drying-drift": "Back in its band",
    "sudden-wetting": "No longer too wet",
    "reservoir-low": "Enough water again",
    "reservoir-empty": "Water again",
    "reservoir-leak": "No longer losing water",
    "supply-interrupted": "Water comes again",
    "uneven-room": "Even again",
    "probe-silent": "Heard again",
    "probe-fault": "Readings can be believed again",
    "gateway-silent": "Heard again",
    "monitoring-stopped": "Watched again",
}

#: What was done, after "N min after".
DONE: Mapping[str, str] = {
    "refilled": "the refill",
    "purged": "the line was purged",
    "cleaned-filter": "the filter was cleaned",
    "opened-valve": "the valve was opened",
    "mended-leak": "the leak was stopped",
    "re-set-emitter": "the emitter was re-set",
    "replaced-emitter": "the emitter was replaced",
    "watered-by-hand": "watering by hand",
    "refilled-probe": "the probe was refilled",
    "replaced-probe": "the probe was replaced",
    "moved-probe": "the probe was moved",
    "set-up": "it was set up",
    "pruned": "pruning",
    "removed-plant": "the plant was taken out",
    "maintenance": "maintenance",
    "checked": "somebody checked",
}


#: The same as a cause, after "explained by".
CAUSE: Mapping[str, str] = {
    "refilled": "a refill",
    "purged": "purging of the line",
    "cleaned-filter": "cleaning of the filter",
    "opened-valve": "the opening of a valve",
    "mended-leak": "work on a leak",
    "re-set-emitter": "re-setting of the emitter",
    "replaced-emitter": "replacing of the emitter",
    "watered-by-hand": "watering by hand",
    "refilled-probe": "refilling of the probe",
    "replaced-probe": "replacing of the probe",
    "moved-probe": "moving of the probe",
    "set-up": "setting up",
    "pruned": "pruning",
    "removed-plant": "taking the plant out",
    "maintenance": "maintenance",
    "checked": "a check",
}


def ended(alarm: Alarm, condition: Condition, work: Sequence[Work], settled_hours: float) -> dict[str, object]:
    """How an alarm ended whose condition is gone, for its journal: in words, and which work helped.

    `work` is what was done about its subject, `settled_hours` the rule there.
    """
    explaining = verdict.explaining(condition, work, settled_hours)
    helped = {} if explaining else verdict.helped(condition, work, settled_hours)
    return {"outcome": _outcome(alarm, condition, work, explaining), **({"judged": helped} if helped else {})}


def _outcome(alarm: Alarm, condition: Condition, work: Sequence[Work], explaining: Work | None) -> str:
    gone_at = condition.gone_at or condition.last_seen_at
    lasted = f"it lasted {lasting(gone_at - condition.since)}"
    if explaining is not None:
        return f"Explained by {CAUSE[explaining.kind]}; {lasted}."
    done = [entry for entry in work if condition.since <= entry.at <= gone_at]
    if not done:
        return f"{AGAIN[alarm.kind]}; no work was recorded; {lasted}."
    last = max(done, key=lambda entry: (entry.at, entry.id))
    return f"{AGAIN[alarm.kind]} {lasting(gone_at - last.at)} after {DONE[last.kind]}; {lasted}."


def retired(alarm: Alarm) -> str:
    """How an alarm ended whose subject left the fleet."""
    return f"{alarm.subject.name} is no longer in the fleet."
