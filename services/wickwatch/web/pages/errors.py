"""An error as a page, for somebody whose browser asked for one."""

from __future__ import annotations

from collections.abc import Mapping

from fastapi import Request, Response

from wickwatch.web.access import context
from wickwatch.web.problems import Problem
from wickwatch.web.templates import html

_TITLES = {
    403: "You may not do this",
    404: "There is nothing here",
    409: "This can't be done now",
    410: "This link is over",
    422: "This can't be taken",
    429: "Too many tries",
    503: "The database does not answer",
}


def error_page(request: Request, problem: Problem, headers: Mapping[str, str] | None) -> Response:
    """A problem in words, with a way back."""
    values = {"title": _TITLES.get(problem.status, "Something broke"), "problem": problem, "visitor": "", "path": ""}
    return html(request, context(request).templates.render("error.html", values), problem.status, headers)
