"""Did the work help? What an alarm says of the work that was to mend it.

Three moments judge work. When the alarm clears, what was done before counts as having helped, by how long after it
things were right. When what was worked on has settled and the condition still holds, the newest work did not help, and
the alarm speaks up again and says so. When a condition comes back within a day of settling, what was to last did not.
Not here: how long something settles (`detect.settling`), nor the alarm's states (`step`).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from wickwatch.alarms.model import Condition
from wickwatch.alarms.words import clock
from wickwatch.detect.constants import WATERED_BEFORE_MIN
from wickwatch.detect.settling import settles_for
from wickwatch.fleet import Kind, Work

_EMITTER = frozenset({"re-set-emitter", "replaced-emitter", "set-up"})
_PROBE = frozenset({"refilled-probe", "replaced-probe", "moved-probe"})
_LINE = frozenset({"purged", "cleaned-filter", "opened-valve"})
_REFILL = frozenset({"refilled"})
_OTHER = frozenset({"maintenance"})

#: Work that can mend each kind of condition. Common practice.
MENDS: Mapping[Kind, frozenset[str]] = {
    "drying-drift": _EMITTER | _PROBE | _LINE | _REFILL | _OTHER | {"watered-by-hand"},
    "sudden-wetting": _EMITTER | _PROBE | _OTHER | {"mended-leak"},
    "reservoir-low": _REFILL | _OTHER | {"replaced-probe"},
    "reservoir-empty": _REFILL | _OTHER | {"replaced-probe"},
    "reservoir-leak": _OTHER | {"mended-leak", "opened-valve"},
    "supply-interrupted": _LINE | _REFILL | _OTHER,
    "uneven-room": _EMITTER | _OTHER,
    "probe-silent": _PROBE | _OTHER,
    "probe-fault": _PROBE | _OTHER,
    "gateway-silent": _OTHER,
    "monitoring-stopped": frozenset(),
}

#: Work that is meant to last for weeks; water given once is not.
_LASTS = _EMITTER | _PROBE | _LINE | {"mended-leak"}

#: What needs no settling is seen at once: how long after the work it is right, or the work did not help. Chosen here.
_SEEN_AFTER: Mapping[Kind, timedelta] = {
    "reservoir-low": timedelta(hours=1),
    "reservoir-empty": timedelta(hours=1),
    "probe-silent": timedelta(hours=1),
    "gateway-silent": timedelta(hours=1),
}

#: A condition that comes back so soon after settling means that the work did not last. Chosen here.
SOON_AGAIN = timedelta(days=1)

#: What was done, as the subject of "did not help".
_DOING: Mapping[str, str] = {
    "refilled": "The refill",
    "purged": "Purging the line",
    "cleaned-filter": "Cleaning the filter",
    "opened-valve": "Opening the valve",
    "mended-leak": "Stopping the leak",
    "re-set-emitter": "Re-setting the emitter",
    "replaced-emitter": "Replacing the emitter",
    "set-up": "Setting it up",
    "watered-by-hand": "Watering by hand",
    "refilled-probe": "Refilling the probe",
    "replaced-probe": "Replacing the probe",
    "moved-probe": "Moving the probe",
    "maintenance": "Maintenance",
}


def judged_at(kind: Kind, entry: Work, settled_hours: float) -> datetime:
    """When it can be said whether work helped against a condition; `settled_hours` is the rule at its subject."""
    return entry.at + (_SEEN_AFTER.get(kind) or settles_for(entry.kind, settled_hours))


@dataclass(frozen=True)
class Failed:
    """Work that has not mended a condition: `helped` is True where it did for a while."""

    entry: Work
    helped: bool
    remark: str

    @property
    def detail(self) -> dict[str, object]:
        """The same for an alarm's journal."""
        return {"judged": {str(self.entry.id): None}}


def failed(
    condition: Condition, work: Sequence[Work], settled_hours: float, at: datetime, zone: ZoneInfo
) -> Failed | None:
    """The newest work that has not mended a condition which holds, as far as that can be said at `at`.

    `work` is what was done about its subject; `settled_hours` is the rule there. The remark is one sentence in facility
    time that reads the same whenever it is made, so that an alarm's message shows whether it was said before.
    """
    done = [entry for entry in work if entry.kind in MENDS[condition.kind] and entry.at <= at]
    since = [entry for entry in done if entry.at >= condition.since]
    before = [entry for entry in done if entry.at < condition.seen_at and entry.kind in _LASTS]
    last = _newest(since) if since else None
    if last is not None and judged_at(condition.kind, last, settled_hours) <= at:
        return Failed(last, False, _remark(condition.kind, last, settled_hours, zone, "did not help"))
    lately = [entry for entry in before if judged_at(condition.kind, entry, settled_hours) + SOON_AGAIN >= at]
    if not lately:
        return None
    last = _newest(lately)
    return Failed(last, True, _remark(condition.kind, last, settled_hours, zone, "did not last"))


def said_to_fail(message: str) -> bool:
    """Whether an alarm's message says that work did not help."""
    return message.endswith("did not help.")


def helped(condition: Condition, work: Iterable[Work], settled_hours: float) -> dict[str, float]:
    """Seconds from each work that mended a condition until it was gone, by the entry's id; for the journal.

    Work that had failed before something else was done did not help.
    """
    gone_at = condition.gone_at or condition.last_seen_at
    done = [entry for entry in work if entry.kind in MENDS[condition.kind] and condition.since <= entry.at <= gone_at]
    if not done:
        return {}
    last = _newest(done)
    return {
        str(entry.id): (gone_at - entry.at).total_seconds()
        for entry in done
        if entry is last or judged_at(condition.kind, entry, settled_hours) >= gone_at
    }


def explaining(condition: Condition, work: Iterable[Work], settled_hours: float) -> Work | None:
    """The newest work that explains a condition which is gone: it began after that work and went while it settled.

    It was raised before anybody wrote the work down. A can's water may show a little before the time told.
    """
    gone_at = condition.gone_at or condition.last_seen_at
    done = []
    for entry in work:
        by_hand = condition.kind == "sudden-wetting" and entry.kind == "watered-by-hand"
        begins = entry.at - (timedelta(minutes=WATERED_BEFORE_MIN) if by_hand else timedelta())
        settles = condition.kind not in _SEEN_AFTER and gone_at <= entry.at + settles_for(entry.kind, settled_hours)
        if settles and begins <= condition.since and entry.at <= gone_at:
            done.append(entry)
    return _newest(done) if done else None


def _remark(kind: Kind, entry: Work, settled_hours: float, zone: ZoneInfo, verb: str) -> str:
    return f"{_DOING[entry.kind]} at {clock(entry.at, judged_at(kind, entry, settled_hours), zone)} {verb}."


def _newest(done: Sequence[Work]) -> Work:
    return max(done, key=lambda entry: (entry.at, entry.id))
