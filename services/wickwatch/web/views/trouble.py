"""One open alarm as a sentence, as every page tells it. Not here: an alarm's own page (`alarm`)."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID
from zoneinfo import ZoneInfo

from wickwatch.alarms import said
from wickwatch.store.pages import AlarmRow
from wickwatch.texts import _
from wickwatch.web.views import words
from wickwatch.web.views.state import urgency
from wickwatch.web.views.times import Moment, moment

#: States in which an alarm asks for somebody, or somebody has it.
ASKING = ("unacknowledged", "acknowledged", "returned-unacknowledged")

#: States in which what was wrong has gone, whether or not somebody has said so.
_OVER = ("returned-unacknowledged", "normal")


@dataclass(frozen=True)
class Trouble:
    """One open alarm as a sentence; `answer` says who has it, or that nobody does."""

    id: UUID
    priority: str
    soon: str
    heading: str
    message: str
    answer: str
    answered: bool
    since: Moment


def trouble(alarm: AlarmRow, zone: ZoneInfo, now: datetime) -> Trouble:
    """One alarm as a sentence."""
    answer = words.STATES[alarm.state]
    if alarm.state == "acknowledged" and alarm.acknowledged_by:
        answer = _("%(person)s has it", person=alarm.acknowledged_by)
    return Trouble(
        id=alarm.id,
        priority=alarm.priority,
        soon=_(words.OVER) if alarm.state in _OVER else words.PRIORITIES[alarm.priority],
        heading=words.KINDS[alarm.kind],
        message=said(alarm),
        answer=answer,
        answered=alarm.state == "acknowledged",
        since=moment(alarm.raised_at, zone, now),
    )


def whole_facility(alarms: Sequence[AlarmRow], now: datetime) -> tuple[Trouble, ...]:
    """Alarms that belong to no room, such as a silent gateway, the most urgent first."""
    asking = sorted((alarm for alarm in alarms if alarm.room_id is None and alarm.state in ASKING), key=urgency)
    return tuple(trouble(alarm, ZoneInfo(alarm.zone), now) for alarm in asking)
