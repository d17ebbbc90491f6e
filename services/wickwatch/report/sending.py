"""A report as a message: its key figures, what to do, and where the whole is.

Not here: who gets it (`store.report_sending`), nor how it leaves (`notify`).
"""

from __future__ import annotations

from datetime import datetime, timedelta
from uuid import UUID

from wickwatch.report.document import Document, Steps, Text, Tiles
from wickwatch.report.facts import Facts
from wickwatch.report.sections import title_of
from wickwatch.store import report_sending
from wickwatch.store.connect import Connection
from wickwatch.texts import PLAIN, _, speaking

#: A report that could not be sent by then is read on the page.
WORTH_SENDING = timedelta(days=2)


def send(conn: Connection, facts: Facts, document: Document, report_id: UUID, base_url: str, at: datetime) -> int:
    """Queue a notice to everybody who wants it; returns how many."""
    link = f"{base_url.rstrip('/')}/reports?facility={facts.facility.slug}"
    payload = {"id": str(report_id), "facility": facts.facility.slug, "week": facts.week.name, "link": link}
    with speaking(facts.reader):
        title, body = _title(document.title), text(document, link)
    with speaking(PLAIN):
        # A program has its figures from the tables, so where it needs words of its own they are few.
        plain = None if facts.reader == PLAIN else (_title(title_of(facts)), f"{_whole(link)}\n")
    until = at + WORTH_SENDING
    return report_sending.queue(conn, facts.facility.id, report_id, title, body, payload, at, until, plain)


def text(document: Document, link: str) -> str:
    """The first page as plain text, and where the rest is."""
    parts = [" ".join(document.about)]
    for block in document.sections[0].blocks:
        if isinstance(block, Text):
            parts.append(block.text)
        elif isinstance(block, Tiles):
            parts.append("\n".join(f"- {tile.name}: {tile.value} ({tile.note})" for tile in block.items))
        elif isinstance(block, Steps):
            # The paragraph before says what the list is: it stands with it.
            steps = [f"{number}. {step.what}. {step.why}" for number, step in enumerate(block.items, 1)]
            parts[-1] = "\n".join([parts[-1], *steps])
    return "\n\n".join([*parts, _whole(link)]) + "\n"


def _title(of: str) -> str:
    return _("Weekly report: %(title)s", title=of)


def _whole(link: str) -> str:
    return _("The whole report, as HTML, PDF and tables:") + f"\n{link}"
