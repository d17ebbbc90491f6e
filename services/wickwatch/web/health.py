"""Answers for what looks after this process: alive, able to serve, figures.

Not here: whether the watching as a whole is well; pages say that, and an alarm.
"""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Depends, Request, Response
from pydantic import BaseModel

from wickwatch import store
from wickwatch.errors import RefusedError
from wickwatch.store import jobs, pages
from wickwatch.web import metrics
from wickwatch.web.access import context
from wickwatch.web.context import Context
from wickwatch.web.problems import RESPONSES, ProblemError

router = APIRouter(tags=["health"])

Web = Annotated[Context, Depends(context)]


class Health(BaseModel):
    """What was asked holds."""

    status: str = "ok"


@router.get("/healthz")
async def healthz() -> Health:
    """Whether this process answers at all; asks nothing of others."""
    return Health()


@router.get("/readyz", responses={503: RESPONSES[503]})
def readyz(web: Web) -> Health:
    """Whether this process can serve: the database answers and its schema is this version's."""
    try:
        missing = store.pending(web.settings.database_url)
    except RefusedError as error:
        raise ProblemError(503, str(error)) from error
    if missing:
        raise ProblemError(503, f"the database lacks migration {missing[0].number}; run `wickwatch migrate`")
    return Health()


class Figures(Response):
    """OpenMetrics text."""

    media_type = metrics.CONTENT_TYPE


@router.get("/metrics", response_class=Figures, responses={503: RESPONSES[503]})
def figures(web: Web) -> Response:
    """Figures about this process and the whole, as OpenMetrics text."""
    with web.connection() as conn:
        text = web.metrics.text(pages.counts(conn), jobs.parts(conn))
    return Figures(text)


@router.get("/openapi.json", include_in_schema=False)
def description(request: Request) -> dict[str, object]:
    """The description of the interface."""
    described: dict[str, object] = request.app.openapi()
    return described
