"""A judgement's whole effect on a facility's alarms, in one transaction: step, climb, hand over, record, call.

Either all of it happened or nothing did. Not here: what is judged and when (`watch.sweep`, `watch.health`), or any rule
of what follows (`alarms`).
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import LiteralString
from uuid import UUID

from wickwatch import alarms
from wickwatch.alarms import Book, Call, Changes, Duty
from wickwatch.detect import Judgement
from wickwatch.fleet import Facility, Work
from wickwatch.store import alarms as stored_alarms
from wickwatch.store import calls, notices, readers, rota, service
from wickwatch.store.connect import Connection

# One step at a time: the sweep and the look at the watching itself step the same alarms.
_ALONE: LiteralString = "SELECT pg_advisory_xact_lock(hashtextextended('wickwatch.step ' || %s::text, 0))"


def alone(conn: Connection, facility_id: UUID) -> None:
    """Keep everybody else from stepping a facility's alarms until the caller's transaction ends."""
    conn.execute(_ALONE, (facility_id,))


def step(
    conn: Connection, place: Facility, judgement: Judgement, work: Sequence[Work], base_url: str
) -> tuple[Changes, int]:
    """Step a facility's alarms, call the next where nobody answers and who takes over, and queue the notices.

    Returns what changed, and how many notices were queued.
    """
    alone(conn, place.id)
    at = judgement.as_of
    duty = rota.on_duty(conn, place.id, at)
    periods = service.around(conn, place.id, at, at)
    book = stored_alarms.load_book(conn, place.id, at)
    changes = alarms.step(book, judgement, place, work, periods, duty.waiting)
    changes = changes.then(alarms.escalate(alarms.after(book, changes), duty, at))
    changes = changes.then(_hand_over(conn, alarms.after(book, changes), duty, at))
    stored_alarms.save(conn, place.id, changes)
    queued = _call(conn, place, alarms.after(book, changes), alarms.calls(changes, duty), duty.fallback, base_url, at)
    return changes, queued


def _hand_over(conn: Connection, book: Book, duty: Duty, at: datetime) -> Changes:
    """Call who has taken over for what nobody has answered; `book` is the facility's after the step."""
    waiting = alarms.unanswered(book, at)
    called = calls.called(conn, [alarm.id for alarm in waiting]) if waiting else {}
    return alarms.hand_over(waiting, duty, called, at)


def _call(
    conn: Connection, place: Facility, book: Book, new: Sequence[Call], fallback: bool, base_url: str, at: datetime
) -> int:
    """Tell people of new calls and of those that waited; `book` is the facility's after the step."""
    standing = {alarm.id: alarm for alarm in book.alarms.values()}
    loads = calls.loads(conn, place.id, standing, {each.person.person_id for each in new}, at)
    speak_to = readers.of_people(conn, loads, place.id) if loads else {}
    leaving = alarms.leaving(new, loads, fallback, base_url, place, at, speak_to)
    calls.save(conn, place.id, leaving.told, at)
    return notices.queue(conn, leaving.drafts)
