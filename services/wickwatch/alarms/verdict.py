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
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

from wickwatch.alarms.model import Condition
from wickwatch.alarms.words import clock
from wickwatch.detect.constants import WATERED_BEFORE_MIN
from wickwatch.detect.settling import settles_for
from wickwatch.fleet import Kind, Work
from wickwatch.texts import N_, Words, _

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
_DOING = Words(
    {
        "refilled": N_("The refill"),
        "purged": N_("Purging the line"),
        "cleaned-filter": N_("Cleaning the filter"),
        "opened-valve": N_("Opening the valve"),
        "mended-leak": N_("Stopping the leak"),
        "re-set-emitter": N_("Re-setting the emitter"),
        "replaced-emitter": N_("Replacing the emitter"),
        "set-up": N_("Setting it up"),
        "watered-by-hand": N_("Watering by hand"),
        "refilled-probe": N_("Refilling the probe"),
        "replaced-probe": N_("Replacing the probe"),
        "moved-probe": N_("Moving the probe"),
        "maintenance": N_("Maintenance"),
    }
)


def judged_at(kind: Kind, entry: Work, settled_hours: float) -> datetime:
    """When it can be said whether work helped against a condition; `settled_hours` is the rule at its subject."""
    return entry.at + (_SEEN_AFTER.get(kind) or settles_for(entry.kind, settled_hours))


@dataclass(frozen=True)
class Failed:
    """Work of a kind `at` a time has not mended a condition, as was seen at `judged_at`; `helped` for a while or not.

    `entry_id` is the work entry's, `zone` the facility's.
    """

    entry_id: UUID
    kind: str
    at: datetime
    judged_at: datetime
    helped: bool
    zone: ZoneInfo

    @property
    def remark(self) -> str:
        """One sentence in facility time."""
        done, time = _DOING[self.kind], clock(self.at, self.judged_at, self.zone)
        if self.helped:
            return _("%(work)s at %(time)s did not last.", work=done, time=time)
        return _("%(work)s at %(time)s did not help.", work=done, time=time)

    @property
    def detail(self) -> dict[str, object]:
        """The same for an alarm's journal."""
        return {"judged": {str(self.entry_id): None}}

    def kept(self) -> dict[str, object]:
        """The same as JSON, so that the remark can be made again."""
        return {
            "id": str(self.entry_id),
            "kind": self.kind,
            "at": self.at.isoformat(),
            "judged_at": self.judged_at.isoformat(),
            "helped": self.helped,
        }

    @classmethod
    def again(cls, kept: Mapping[str, Any], zone: ZoneInfo) -> Failed:
        """What was kept."""
        at, judged_at = (datetime.fromisoformat(kept[name]) for name in ("at", "judged_at"))
        return cls(UUID(kept["id"]), kept["kind"], at, judged_at, kept["helped"], zone)


def failed(
    condition: Condition, work: Sequence[Work], settled_hours: float, at: datetime, zone: ZoneInfo
) -> Failed | None:
    """The newest work that has not mended a condition which holds, as far as that can be said at `at`.

    `work` is what was done about its subject; `settled_hours` is the rule there. The remark reads the same whenever it
    is made, so that an alarm's message shows whether it was said before.
    """

    def of(entry: Work, *, helped: bool) -> Failed:
        judged = judged_at(condition.kind, entry, settled_hours)
        return Failed(entry.id, entry.kind, entry.at, judged, helped, zone)

    done = [entry for entry in work if entry.kind in MENDS[condition.kind] and entry.at <= at]
    since = mending(condition, done, at)
    before = [entry for entry in done if entry.at < condition.seen_at and entry.kind in _LASTS]
    last = _newest(since) if since else None
    if last is not None and judged_at(condition.kind, last, settled_hours) <= at:
        return of(last, helped=False)
    lately = [entry for entry in before if judged_at(condition.kind, entry, settled_hours) + SOON_AGAIN >= at]
    if not lately:
        return None
    return of(_newest(lately), helped=True)


def mending(condition: Condition, work: Iterable[Work], at: datetime) -> list[Work]:
    """Work up to a moment that can mend a condition and was done since it began."""
    return [entry for entry in work if entry.kind in MENDS[condition.kind] and condition.since <= entry.at <= at]


def said_to_fail(message: str) -> bool:
    """Whether an alarm's message says that work did not help."""
    return message.endswith("did not help.")


def helped(condition: Condition, work: Iterable[Work], settled_hours: float) -> dict[str, float]:
    """Seconds from each work that mended a condition until it was gone, by the entry's id; for the journal.

    Work that had failed before something else was done did not help.
    """
    gone_at = condition.gone_at or condition.last_seen_at
    done = mending(condition, work, gone_at)
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


def _newest(done: Sequence[Work]) -> Work:
    return max(done, key=lambda entry: (entry.at, entry.id))
