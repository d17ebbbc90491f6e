"""An error as a page, for somebody whose browser asked for one."""

from __future__ import annotations

from collections.abc import Mapping

from fastapi import Request, Response

from wickwatch.texts import N_, _
from wickwatch.web.access import context
from wickwatch.web.problems import Problem
from wickwatch.web.templates import html

_TITLES: Mapping[int, str] = {
    403: N_("You may not do this"),
    404: N_("There is nothing here"),
    409: N_("This can't be done now"),
    410: N_("This link is over"),
    422: N_("This can't be taken"),
    429: N_("Too many tries"),
    503: N_("The database does not answer"),
}


def error_page(request: Request, problem: Problem, headers: Mapping[str, str] | None) -> Response:
    """A problem in words, with a way back."""
    values = {
        "title": _(_TITLES[problem.status]) if problem.status in _TITLES else _("Something broke"),
        "problem": problem,
        "visitor": "",
        "path": "",
    }
    return html(request, context(request).templates.render("error.html", values), problem.status, headers)
