"""What is set up, as the fleet file that says the same; for managers.

Not here: writing it (`fleet.writing`); `wickwatch fleet export` writes the same text.
"""

from __future__ import annotations

from fastapi import APIRouter, Request, Response

from wickwatch.fleet.writing import to_toml
from wickwatch.web.access import PageCall
from wickwatch.web.pages import set_up_forms as forms
from wickwatch.web.pages.show import show
from wickwatch.web.views import set_up_export as view

router = APIRouter(prefix="/set-up/{slug}")


@router.get("/fleet-file")
def page(request: Request, call: PageCall, slug: str) -> Response:
    """The file, to be looked at."""
    facility = forms.managed(call, slug)
    text = to_toml([forms.facility_with(call, facility, None)])
    return show(request, call, "set_up_export.html", view.page(facility, text))


@router.get("/fleet.toml")
def file(call: PageCall, slug: str) -> Response:
    """The file, to be kept."""
    facility = forms.managed(call, slug)
    text = to_toml([forms.facility_with(call, facility, None)])
    headers = {"Content-Disposition": f'attachment; filename="{facility.slug}.toml"'}
    return Response(text, headers=headers, media_type="application/toml")
