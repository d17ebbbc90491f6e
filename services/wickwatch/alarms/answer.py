"""What a person does to an alarm: say "mine", shelve it for a time, take it out of service, and back.

Pure: the caller says who and when. Not here: who may (`web`), nor the row lock that lets one of two win
(`store.alarms`).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Literal, get_args
from uuid import UUID

from wickwatch.alarms import journal, policy
from wickwatch.alarms.model import Alarm, Event, JournalEntry
from wickwatch.alarms.words import lasting
from wickwatch.errors import InputError, RefusedError
from wickwatch.texts import _

ActName = Literal["acknowledge", "shelve", "unshelve", "take-out-of-service", "return-to-service"]
ACTS: tuple[ActName, ...] = get_args(ActName)

_EVENT_OF: Mapping[ActName, Event] = {
    "acknowledge": "acknowledged",
    "shelve": "shelved",
    "unshelve": "unshelved",
    "take-out-of-service": "taken-out-of-service",
    "return-to-service": "returned-to-service",
}

#: Acts that must end, and how far ahead at most.
_MOST: Mapping[ActName, timedelta] = {
    "shelve": policy.SHELVE_MOST,
    "take-out-of-service": policy.OUT_OF_SERVICE_MOST,
}

_NOTE_LONGEST = 500


@dataclass(frozen=True)
class Act:
    """One act; `until` (aware) for those that must end, `note` says why, in the person's words."""

    name: ActName
    until: datetime | None = None
    note: str = ""


def apply(alarm: Alarm, act: Act, person_id: UUID | None, at: datetime) -> tuple[Alarm, JournalEntry | None]:
    """The alarm after an act, and its journal entry.

    Saying "mine" again by the one who said it changes nothing and has no entry. Raises RefusedError where the state
    can't take the act, InputError for an end that is missing, past or too far, or a note that is too long.
    """
    if act.name == "acknowledge" and alarm.state == "acknowledged":
        if person_id is not None and person_id == alarm.acknowledged_by:
            return alarm, None
        raise RefusedError(_("%(name)s: somebody else has already acknowledged this alarm", name=alarm.subject.name))
    if act.name == "return-to-service" and alarm.service_id is not None:
        raise RefusedError(
            _("%(name)s is out of service with what it belongs to; that is what can be ended", name=alarm.subject.name)
        )
    detail: dict[str, object] = {}
    until = _until(act, at)
    if until is not None:
        detail["until"] = until.isoformat()
    if len(act.note) > _NOTE_LONGEST:
        raise InputError(_("note"), act.note, _("at most %(most)s characters", most=_NOTE_LONGEST))
    if act.note:
        detail["note"] = act.note
    entry = journal.entry(alarm, _EVENT_OF[act.name], at, person_id, detail)
    return journal.advance(alarm, entry), entry


def _until(act: Act, at: datetime) -> datetime | None:
    most = _MOST.get(act.name)
    if most is None:
        return None
    if act.until is None or act.until.tzinfo is None or not at < act.until <= at + most:
        value = None if act.until is None else act.until.isoformat()
        raise InputError(
            _("end of %(name)s", name=act.name),
            value,
            _("a time with its zone, from now to %(lasting)s ahead", lasting=lasting(most)),
        )
    return act.until
