"""One order made into a report that is kept, and sent where the clock asked for it.

Not here: which orders there are and when (`process`).
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from uuid import UUID
from zoneinfo import ZoneInfo

from wickwatch import log
from wickwatch.report.facts import Facts, facts
from wickwatch.report.key_figures import changes, key_figures
from wickwatch.report.make import File, data, read_as, stem, zipped
from wickwatch.report.sections import document
from wickwatch.report.sending import send
from wickwatch.report.week import last_complete, parse
from wickwatch.store import fleet, report_reads, reports, rollups
from wickwatch.store.connect import Connection, connect
from wickwatch.store.report_reads import Span
from wickwatch.store.reports import NewReport, Order
from wickwatch.texts import N_, speaking

#: Longer than any step of making a report takes.
LEASE = timedelta(minutes=5)


def make(database_url: str, base_url: str, order: Order, now: datetime) -> UUID:
    """Make and keep the report; progress goes out over a connection of its own, so that others see it at once."""
    with (
        connect(database_url, "report") as conn,
        connect(database_url, "report-progress", autocommit=True) as telling,
    ):

        def tell(what: str, begin: float, end: float, share: float) -> None:
            reports.progress(telling, order.id, what, begin + (end - begin) * share, datetime.now(UTC) + LEASE)

        rollups.refresh_unless_watched(conn, order.facility_id)
        conn.commit()  # a watch that begins meanwhile must not wait for the report
        week = parse(order.week, fleet.load_facility(conn, order.facility_id, now).zone)
        earlier = reports.listed(conn, [order.facility_id], order.week)
        found = facts(conn, order.facility_id, week, now, lambda what, share: tell(what, 0.0, 0.4, share))
        figures = key_figures(found)
        names = {room.slug: room.name for room in found.place.rooms}
        with speaking(found.reader):
            changed = changes(earlier[0].figures, figures, names) if earlier else None
        tell(N_("writing"), 0.4, 0.5, 0.0)
        whole = document(found, changed, earlier[0].edition + 1 if earlier else 1)
        files = [
            *read_as(whole, stem(found), ("a4", "letter"), lambda what, share: tell(what, 0.5, 0.9, share)),
            *_archives(found),
        ]
        tell(N_("keeping it"), 0.9, 1.0, 0.5)
        new = NewReport(order.facility_id, week.name, week.start, week.end, now, found.reached, figures)
        id = reports.save(conn, new, [(file.name, file.media_type, file.body) for file in files])
        if order.scheduled:
            send(conn, found, whole, id, base_url, now)
        reports.fulfil(conn, order.id, id, datetime.now(UTC))
        conn.commit()
    log.event("report.made", facility=found.facility.slug, week=week.name, report=id, files=len(files))
    return id


def order_due(conn: Connection, now: datetime, after: timedelta) -> None:
    """Order the report of every facility's newest week that has been over for so long, once for each week.

    Nothing is ordered for a week without any reading, such as one before the facility was there.
    """
    for site in fleet.facilities(conn):
        week = last_complete(now - after, ZoneInfo(site.zone))
        if reports.was_scheduled(conn, site.id, week.name):
            continue
        if report_reads.reached(conn, Span(site.id, week.start, week.end)) is not None:
            reports.order(conn, site.id, week.name, now, scheduled=True)


def _archives(found: Facts) -> list[File]:
    tables = list(data(found))
    return [
        zipped(f"{stem(found)}-{kind}.zip", [file for file in tables if file.name.endswith(f".{kind}")])
        for kind in ("csv", "parquet")
    ]
