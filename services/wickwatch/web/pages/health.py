"""The health page, for managers, and quarantine tried again from it.

Not here: answers for what looks after this process (`web.health`), or how a pack is taken in (`ingest`).
"""

from __future__ import annotations

import platform
import shutil
from datetime import datetime, timedelta
from pathlib import Path
from typing import Annotated
from urllib.parse import urlencode

from fastapi import APIRouter, Form, Query, Request, Response

from wickwatch import __version__
from wickwatch.fleet import Rules
from wickwatch.ingest import try_again
from wickwatch.ingest.reasons import REASONS
from wickwatch.store import audit, health, jobs, people, quarantine, timescale
from wickwatch.store.connect import Connection
from wickwatch.texts import N_, _
from wickwatch.web.access import Call, FormToken, PageCall
from wickwatch.web.pages.show import alive, go, show
from wickwatch.web.problems import not_found
from wickwatch.web.views import health as view

router = APIRouter()

#: Refused packs on one page, and octets shown of each.
_PAGE = 25
_OCTETS = 2000

Reason = Annotated[str, Form(max_length=40)]

#: Packs tried again by one press of a button.
_MOST_AT_ONCE = 500

#: Batteries listed, the emptiest.
_BATTERIES = 20


@router.get("/health")
def page(
    request: Request,
    call: PageCall,
    reason: Annotated[str, Query(max_length=40)] = "",
    before: Annotated[int | None, Query(ge=0, lt=2**63)] = None,
    tried: Annotated[datetime | None, Query()] = None,
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
        reasons = view.reasons(health.reasons(conn, managed, every, call.now))
        machine = _machine(conn, call)
        seen = quarantine.tried(conn, managed, every, tried) if tried and tried.tzinfo else None
        banners = alive(conn, call)
    made = view.HealthPage(
        headline=view.headline(parts, runs, lags, gateways, batteries, machine),
        parts=parts,
        jobs=runs,
        lags=lags,
        gateways=gateways,
        batteries=batteries,
        machine=machine,
        reasons=reasons,
        reason=wanted,
        refused=view.refused(rows[:_PAGE], REASONS, _OCTETS, call.now),
        older=rows[_PAGE - 1].id if len(rows) > _PAGE else None,
        tried=view.tried(*seen, _MOST_AT_ONCE) if seen else "",
        banners=banners,
    )
    return show(request, call, "health.html", made)


@router.post("/health/quarantine/again")
def again_all(call: PageCall, reason: Reason = "", form_token: FormToken = "") -> Response:
    """Try all that was refused for one reason again, by the rules of today."""
    call.check_form(form_token)
    wanted = reason if reason in REASONS else "none"
    return _tried(call, wanted, reason=wanted)


@router.post("/health/quarantine/{id}/again")
def again(call: PageCall, id: int, reason: Reason = "", form_token: FormToken = "") -> Response:
    """Try one refused pack again, by the rules of today."""
    call.check_form(form_token)
    return _tried(call, reason, id=id if 0 <= id < 2**63 else -1)


def _tried(call: Call, filtered: str, *, id: int | None = None, reason: str | None = None) -> Response:
    """Try again what may be seen of it, each pack in its own transaction, and lead back to what became of it."""
    managed = call.require_somewhere("send readings")
    with call.web.connection() as conn:
        every = people.everywhere(conn, call.person_id, ("manager", "administrator"))
        found = quarantine.to_try(conn, managed, every, _MOST_AT_ONCE, id=id, reason=reason)
        if id is not None and not found:
            raise not_found(N_("refused pack that can be tried again"))
    for each in found:
        with call.web.connection() as conn:
            outcome = try_again(conn, each, call.now)
            if outcome is not None:
                facility_id, gateway = quarantine.sender(conn, each)
                audit.note(conn, facility_id, "quarantine", gateway, outcome._asdict())
    query = urlencode({"tried": call.now.isoformat()} | ({"reason": filtered} if filtered in REASONS else {}))
    return go(f"/health?{query}#quarantine")


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
