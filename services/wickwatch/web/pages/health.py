"""The health page, for managers. Not here: answers for what looks after this process (`web.health`)."""

from __future__ import annotations

import platform
import shutil
from datetime import timedelta
from pathlib import Path
from typing import Annotated

from fastapi import APIRouter, Query, Request, Response

from wickwatch import __version__
from wickwatch.fleet import Rules
from wickwatch.ingest.reasons import REASONS
from wickwatch.store import health, jobs, people, timescale
from wickwatch.store.connect import Connection
from wickwatch.texts import _
from wickwatch.web.access import Call, PageCall
from wickwatch.web.pages.show import alive, show
from wickwatch.web.views import health as view

router = APIRouter()

#: Refused packs on one page, and octets shown of each.
_PAGE = 25
_OCTETS = 2000

#: Batteries listed, the emptiest.
_BATTERIES = 20


@router.get("/health")
def page(
    request: Request,
    call: PageCall,
    reason: Annotated[str, Query(max_length=40)] = "",
    before: Annotated[int | None, Query(ge=0, lt=2**63)] = None,
) -> Response:
    """Everything that tells whether the whole is well, in the facilities the visitor manages."""
    managed = call.require_somewhere("see health")
    wanted = reason if reason in REASONS else ""
    with call.web.connection() as conn:
        every = people.everywhere(conn, call.person_id, ("manager", "administrator"))
        rows = health.refused(conn, managed, every, _PAGE + 1, _OCTETS, reason=wanted or None, before=before)
        parts = view.parts(jobs.parts(conn))
        runs = view.jobs(health.job_runs(conn, managed, call.now), call.now)
        lags = view.lags(health.lags(conn, managed), health.queued(conn, managed), call.now)
        late = timedelta(minutes=Rules().gateway_silent_minutes)
        gateways = view.gateways(health.gateways(conn, managed), late, call.now)
        batteries = view.batteries(health.batteries(conn, managed, call.now, _BATTERIES), call.now)
        reasons = health.reasons(conn, managed, every, call.now)
        machine = _machine(conn, call)
        banners = alive(conn, call)
    made = view.HealthPage(
        headline=view.headline(parts, runs, lags, gateways, batteries, machine),
        parts=parts,
        jobs=runs,
        lags=lags,
        gateways=gateways,
        batteries=batteries,
        machine=machine,
        reasons=tuple(reasons.items()),
        reason=wanted,
        refused=view.refused(rows[:_PAGE], {str(name): said for name, said in REASONS.items()}, _OCTETS, call.now),
        older=rows[_PAGE - 1].id if len(rows) > _PAGE else None,
        banners=banners,
    )
    return show(request, call, "health.html", made)


def _machine(conn: Connection, call: Call) -> tuple[view.Line, ...]:
    disk = shutil.disk_usage(_there(call.web.settings.home))
    sizes = timescale.sizes(conn)
    number, extension = conn.info.server_version, timescale.version(conn)
    versions = {
        "Wickwatch": __version__,
        _("Schema"): _("migration %(num)s", num=health.schema(conn)),
        "PostgreSQL": f"{number // 10000}.{number % 10000}",
        "TimescaleDB": _("%(version)s (%(edition)s edition)", version=extension, edition=timescale.edition(conn))
        if extension
        else _("not used"),
        "Python": platform.python_version(),
    }
    return view.machine(disk.free, disk.total, sizes.database_bytes, sizes.reading_bytes, versions)


def _there(folder: Path) -> Path:
    """The folder, or the nearest above it that exists."""
    while not folder.exists():
        folder = folder.parent
    return folder
