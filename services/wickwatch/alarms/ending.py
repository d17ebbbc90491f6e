"""How an alarm ended, in words: by which work and how long after it, or by itself.

Not here: whether it ended (`step`). The text names no clock time, so that it reads the same in every zone.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import timedelta
from typing import Any

from wickwatch.alarms import verdict
from wickwatch.alarms.model import Alarm, Condition
from wickwatch.alarms.words import lasting
from wickwatch.fleet import Kind, Work
from wickwatch.texts import N_, PLAIN, Words, _, spoken

#: What is true again once a condition is gone.
AGAIN = Words(
    {
        "drying-drift": N_("Back in its band"),
        "sudden-wetting": N_("No longer too wet"),
        "reservoir-low": N_("Enough water again"),
        "reservoir-empty": N_("Water again"),
        "reservoir-leak": N_("No longer losing water"),
        "supply-interrupted": N_("Water comes again"),
        "uneven-room": N_("Even again"),
        "probe-silent": N_("Heard again"),
        "probe-fault": N_("Readings can be believed again"),
        "gateway-silent": N_("Heard again"),
        "monitoring-stopped": N_("Watched again"),
    }
)

#: What was done, after "N min after".
DONE = Words(
    {
        "refilled": N_("the refill"),
        "purged": N_("the line was purged"),
        "cleaned-filter": N_("the filter was cleaned"),
        "opened-valve": N_("the valve was opened"),
        "mended-leak": N_("the leak was stopped"),
        "re-set-emitter": N_("the emitter was re-set"),
        "replaced-emitter": N_("the emitter was replaced"),
        "watered-by-hand": N_("watering by hand"),
        "refilled-probe": N_("the probe was refilled"),
        "replaced-probe": N_("the probe was replaced"),
        "moved-probe": N_("the probe was moved"),
        "set-up": N_("it was set up"),
        "pruned": N_("pruning"),
        "removed-plant": N_("the plant was taken out"),
        "maintenance": N_("maintenance"),
        "checked": N_("somebody checked"),
    }
)


#: The same as a cause, after "explained by".
CAUSE = Words(
    {
        "refilled": N_("a refill"),
        "purged": N_("purging of the line"),
        "cleaned-filter": N_("cleaning of the filter"),
        "opened-valve": N_("the opening of a valve"),
        "mended-leak": N_("work on a leak"),
        "re-set-emitter": N_("re-setting of the emitter"),
        "replaced-emitter": N_("replacing of the emitter"),
        "watered-by-hand": N_("watering by hand"),
        "refilled-probe": N_("refilling of the probe"),
        "replaced-probe": N_("replacing of the probe"),
        "moved-probe": N_("moving of the probe"),
        "set-up": N_("setting up"),
        "pruned": N_("pruning"),
        "removed-plant": N_("taking the plant out"),
        "maintenance": N_("maintenance"),
        "checked": N_("a check"),
    }
)


def ended(alarm: Alarm, condition: Condition, work: Sequence[Work], settled_hours: float) -> dict[str, object]:
    """How an alarm ended whose condition is gone, for its journal: in words, what those are made of, and what helped.

    `work` is what was done about its subject, `settled_hours` the rule there.
    """
    explaining = verdict.explaining(condition, work, settled_hours)
    helped = {} if explaining else verdict.helped(condition, work, settled_hours)
    detail = _told(alarm.kind, _facts(condition, work, explaining))
    return {**detail, **({"judged": helped} if helped else {})}


def retired(alarm: Alarm) -> dict[str, object]:
    """The same of one whose subject left the fleet."""
    return _told(alarm.kind, {"retired": alarm.subject.name})


def outcome(kind: str, made_of: Mapping[str, Any], stored: str | None) -> str | None:
    """How an alarm ended for whoever is spoken to; as it is stored where that can't be said again."""
    kept = made_of.get("outcome")
    return stored if stored is None or kept is None or spoken() == PLAIN else _sentence(kind, kept)


def _told(kind: Kind, kept: Mapping[str, object]) -> dict[str, object]:
    return {"outcome": _sentence(kind, kept), "made_of": {"outcome": kept}}


def _facts(condition: Condition, work: Sequence[Work], explaining: Work | None) -> dict[str, object]:
    """What the words are made of, as JSON keeps it; lengths of time in seconds."""
    gone_at = condition.gone_at or condition.last_seen_at
    kept: dict[str, object] = {"lasted_s": (gone_at - condition.since).total_seconds()}
    if explaining is not None:
        return kept | {"explained_by": explaining.kind}
    done = [entry for entry in work if condition.since <= entry.at <= gone_at]
    if not done:
        return kept
    last = max(done, key=lambda entry: (entry.at, entry.id))
    return kept | {"work": last.kind, "after_s": (gone_at - last.at).total_seconds()}


def _sentence(kind: str, kept: Mapping[str, Any]) -> str:
    if "retired" in kept:
        return _("%(thing)s is no longer in the fleet.", thing=kept["retired"])
    lasted = lasting(timedelta(seconds=kept["lasted_s"]))
    if "explained_by" in kept:
        return _("Explained by %(work)s; it lasted %(span)s.", work=CAUSE[kept["explained_by"]], span=lasted)
    again = AGAIN[kind]
    if "work" not in kept:
        return _("%(again)s; no work was recorded; it lasted %(span)s.", again=again, span=lasted)
    after, done = lasting(timedelta(seconds=kept["after_s"])), DONE[kept["work"]]
    return _(
        "%(again)s %(after)s after %(work)s; it lasted %(span)s.", again=again, after=after, work=done, span=lasted
    )
