"""Notices that tell subscribers of a report: its key figures, what to do, and where the whole is.

Not here: sending them (`notify`).
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta
from uuid import UUID

from wickwatch.alarms import NoticeDraft
from wickwatch.alarms.calls import notice_key
from wickwatch.report.document import Document, Steps, Text, Tiles
from wickwatch.report.facts import Facts
from wickwatch.store import contacts, reports
from wickwatch.store.connect import Connection

#: A report that could not be sent by then is read on the page.
WORTH_SENDING = timedelta(days=2)


def drafts(
    conn: Connection, facts: Facts, document: Document, report_id: UUID, base_url: str, at: datetime
) -> Iterator[NoticeDraft]:
    """One notice to the first contact of each subscriber; none to those who can't be reached."""
    link = f"{base_url.rstrip('/')}/reports?facility={facts.facility.slug}"
    for person_id, _ in reports.subscribers(conn, facts.facility.id):
        reached = contacts.of_person(conn, person_id)
        if not reached:
            continue
        first = reached[0]
        yield NoticeDraft(
            key=notice_key(f"report:{report_id}", first.id),
            facility_id=facts.facility.id,
            alarm_id=None,
            person_id=person_id,
            contact_id=first.id,
            way=first.way,
            address=first.address,
            title=f"Weekly report: {document.title}",
            body=text(document, link),
            payload={"report": str(report_id), "facility": facts.facility.slug, "week": facts.week.name, "link": link},
            created_at=at,
            expires_at=at + WORTH_SENDING,
        )


def text(document: Document, link: str) -> str:
    """The first page as plain text, and where the rest is."""
    parts = ["\n".join(document.about)]
    for block in document.sections[0].blocks:
        if isinstance(block, Text):
            parts.append(block.text)
        elif isinstance(block, Tiles):
            parts.append("\n".join(f"{tile.name}: {tile.value} ({tile.note})" for tile in block.items))
        elif isinstance(block, Steps):
            parts.append("\n".join(f"{n}. {step.what}\n   {step.why}" for n, step in enumerate(block.items, 1)))
    return "\n\n".join([*parts, f"The whole report, as HTML, PDF and tables:\n{link}"]) + "\n"
