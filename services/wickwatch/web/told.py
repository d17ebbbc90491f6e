"""What somebody told in a form for work, by the facility's clock: read, with an error that says what is accepted.

Not here: what the form offers (`web.views.work`), nor whether such work goes with its subject (`store.work`).
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from uuid import UUID
from zoneinfo import ZoneInfo

from wickwatch.errors import InputError
from wickwatch.texts import _

#: Choices of how long ago reach this far [min]; earlier work is given with its time.
_MOST_AGO = 24 * 60


@dataclass(frozen=True)
class Told:
    """What was done, to what, and when (aware UTC)."""

    kind: str
    subject_type: str
    subject_id: UUID
    at: datetime
    note: str


def told(kind: str, subject: str, ago: str, at: str, note: str, zone: ZoneInfo, now: datetime) -> Told:
    """A form's fields: `kind` with its `subject` as `type:id`, or both in `kind` where `subject` is empty.

    `at` is a time of the facility's clock; where it is empty `ago` tells the minutes since, and where both are it is
    now. Raises InputError.
    """
    if not subject:
        kind, _bar, subject = kind.partition(":")
    subject_type, _bar, id = subject.partition(":")
    try:
        subject_id = UUID(id)
    except ValueError:
        raise InputError(_("what was worked on"), subject, _("one of the list")) from None
    when = facility_time(at, zone, now) if at else now - _ago(ago)
    return Told(kind, subject_type, subject_id, when, " ".join(note.split()))


def facility_time(text: str, zone: ZoneInfo, now: datetime, thing: str = "") -> datetime:
    """A time of the facility's clock as UTC; in an hour that daylight saving repeats, the later one that has come.

    Raises InputError for what is no time, and for one that the clock skipped.
    """
    thing = thing or _("time of the work")
    try:
        there = datetime.fromisoformat(text)
    except ValueError:
        there = datetime.max
    if there.tzinfo is not None or there.year > 9000 or there.year < 1971:
        raise InputError(thing, text, _("a date and time of the facility, such as 2026-11-20T04:12"))
    first, second = (there.replace(tzinfo=zone, fold=fold).astimezone(UTC) for fold in (0, 1))
    if first.astimezone(zone).replace(tzinfo=None) != there:
        raise InputError(thing, text, _("a time that the facility's clock showed; it skipped this one"))
    return second if second <= now else first


def _ago(text: str) -> timedelta:
    minutes = int(text) if text.isascii() and text.isdigit() and len(text) < 6 else -1 if text else 0
    if not 0 <= minutes <= _MOST_AGO:
        raise InputError(_("minutes since the work"), text, _("%(low)s to %(high)s", low=0, high=_MOST_AGO))
    return timedelta(minutes=minutes)
