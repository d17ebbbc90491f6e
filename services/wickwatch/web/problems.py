"""Errors as answers: `application/problem+json` (RFC 9457) for programs, a page for people.

Every error ends here, those of the framework too, so that none has a shape of its own. Not here: what is an error.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from http import HTTPStatus
from typing import Any

import psycopg
from fastapi import FastAPI, Request, Response
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse, RedirectResponse
from psycopg_pool import PoolTimeout
from pydantic import BaseModel, Field
from starlette.exceptions import HTTPException
from starlette.types import Scope

from wickwatch import log
from wickwatch.errors import InputError, RefusedError, UnavailableError
from wickwatch.texts import _

MEDIA_TYPE = "application/problem+json"

_OPEN_PATHS = ("/api/", "/healthz", "/readyz", "/metrics", "/openapi.json")


class Fault(BaseModel):
    """One value that can't be taken."""

    thing: str = Field(description="where the value stands: query.limit, body.kind")
    detail: str = Field(description="what is wrong with it")


class Problem(BaseModel):
    """An error, as in RFC 9457."""

    type: str = Field(default="about:blank", description="about:blank: the status says what kind it is")
    title: str = Field(description="the status in words")
    status: int = Field(ge=400, le=599)
    detail: str = Field(description="one sentence for a person")
    errors: list[Fault] | None = Field(default=None, description="each value that can't be taken")


class ProblemError(Exception):
    """Ends a request with a status and one sentence."""

    def __init__(
        self,
        status: int,
        detail: str,
        headers: Mapping[str, str] | None = None,
        errors: Sequence[Fault] | None = None,
    ) -> None:
        super().__init__(detail)
        self.errors = errors
        self.status = status
        self.detail = detail
        self.headers = dict(headers or {})


class SignInNeededError(Exception):
    """Somebody without a session asked for a page."""


def not_found(thing: str) -> ProblemError:
    """The same answer for what does not exist and for what may not be seen, so that nothing can be guessed.

    `thing` is looked up here; whoever answers for a page marks it.
    """
    return ProblemError(404, _("there is no such %(thing)s, or you may not see it", thing=_(thing)))


#: For the description of the interface: what each call may answer besides what it is for.
RESPONSES: dict[int | str, dict[str, Any]] = {
    status: {
        "description": description,
        "content": {MEDIA_TYPE: {"schema": {"$ref": "#/components/schemas/Problem"}}},
    }
    for status, description in {
        400: "The request can't be read",
        401: "No session or token, or one that no longer holds",
        403: "The role does not allow it",
        404: "No such thing, or one that may not be seen",
        422: "A value that can't be taken",
        503: "The database does not answer",
    }.items()
}


def conflict(description: str) -> dict[int | str, dict[str, Any]]:
    """For the description of one call: that it may answer 409, and what that means."""
    return {409: RESPONSES[422] | {"description": description}}


def answer(request: Request, problem: Problem, headers: Mapping[str, str] | None = None) -> Response:
    """A problem as JSON, or as a page where a person is looking."""
    if _for_people(request):
        from wickwatch.web.pages.errors import error_page  # noqa: PLC0415 -- pages know problems

        return error_page(request, problem, headers)
    content = problem.model_dump(exclude_none=True)
    return JSONResponse(content, problem.status, headers=dict(headers or {}), media_type=MEDIA_TYPE)


def install(app: FastAPI) -> None:
    """Turn every error of `app` into a problem."""
    app.add_exception_handler(ProblemError, _problem)
    app.add_exception_handler(SignInNeededError, _sign_in)
    app.add_exception_handler(HTTPException, _http)
    app.add_exception_handler(RequestValidationError, _validation)
    app.add_exception_handler(InputError, _input)
    app.add_exception_handler(RefusedError, _refused)
    for unavailable in (UnavailableError, PoolTimeout, psycopg.OperationalError):
        app.add_exception_handler(unavailable, _unavailable)


def _make(status: int, detail: str, errors: Sequence[Fault] | None = None) -> Problem:
    return Problem(
        title=HTTPStatus(status).phrase, status=status, detail=detail, errors=list(errors) if errors else None
    )


def _problem(request: Request, error: Exception) -> Response:
    assert isinstance(error, ProblemError)
    return answer(request, _make(error.status, error.detail, error.errors), error.headers)


def _sign_in(request: Request, error: Exception) -> Response:
    wanted = request.url.path + (f"?{request.url.query}" if request.url.query else "")
    url = request.url_for("sign_in").include_query_params(**({"next": wanted} if wanted != "/" else {}))
    return RedirectResponse(f"{url.path}?{url.query}" if url.query else url.path, 303)


def _http(request: Request, error: Exception) -> Response:
    assert isinstance(error, HTTPException)
    detail = str(error.detail)
    if error.status_code == 404:
        detail = _("nothing is found at %(path)s", path=request.url.path[:200])
    elif error.status_code == 405:
        detail = _("%(method)s can't be used on %(path)s", method=request.method, path=request.url.path[:200])
    return answer(request, _make(error.status_code, detail), error.headers)


def _validation(request: Request, error: Exception) -> Response:
    assert isinstance(error, RequestValidationError)
    errors = list(error.errors())
    if any(each["type"] == "json_invalid" for each in errors):
        return answer(request, _make(400, _("the body is not JSON")))
    if _for_people(request):  # no form of ours sends such a thing, and what is wrong with it is known in English only
        return answer(request, _make(422, _("a value can't be taken")))
    faults = [Fault(thing=".".join(str(part) for part in each["loc"]), detail=str(each["msg"])) for each in errors[:20]]
    first = f"{faults[0].thing}: {faults[0].detail}" if faults else _("a value can't be taken")
    return answer(request, _make(422, first, faults))


def _input(request: Request, error: Exception) -> Response:
    assert isinstance(error, InputError)
    return answer(
        request,
        _make(422, str(error), [Fault(thing=error.thing, detail=_("accepted: %(accepted)s", accepted=error.accepted))]),
    )


def _refused(request: Request, error: Exception) -> Response:
    return answer(request, _make(409, str(error)))


def _unavailable(request: Request, error: Exception) -> Response:
    log.warning("request.unavailable", path=asked(request.scope), why=type(error).__name__)
    return answer(request, _make(503, _("the database does not answer; try again in a moment")), {"Retry-After": "10"})


def bug(request: Request, error: Exception) -> Response:
    """Answers for whatever nobody foresaw; its traceback is for the log."""
    log.warning("request.failed", path=asked(request.scope), error=f"{type(error).__name__}: {error}"[:300])
    return answer(request, _make(500, _("something broke here; it is in the log")))


def asked(scope: Scope) -> str:
    """The path of a request with names in place of what was asked for: figures stay few, and no log holds a link."""
    path: str = scope["path"]
    for name, value in scope.get("path_params", {}).items():
        path = path.replace(f"/{value}", f"/{{{name}}}", 1)
    return path


def for_programs(path: str) -> bool:
    """Whether what stands at a path is for programs only."""
    return path.startswith(_OPEN_PATHS)


def _for_people(request: Request) -> bool:
    return not for_programs(request.url.path) and "text/html" in request.headers.get("accept", "")
