"""Rules at a facility, a room, a reservoir or a container: seen, tried on the last 30 days, and saved; for managers.

Not here: what a rule means (`fleet.rules`).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import timedelta
from typing import Annotated
from urllib.parse import urlencode
from uuid import UUID
from zoneinfo import ZoneInfo

from fastapi import APIRouter, Query, Request, Response

from wickwatch.errors import InputError, RefusedError
from wickwatch.fleet import RULES, editing
from wickwatch.fleet.declared import DeclaredFacility
from wickwatch.fleet.difference import Place
from wickwatch.store import rule_trials
from wickwatch.store.pages import set_up as stored
from wickwatch.store.people import Visible
from wickwatch.texts import N_, _
from wickwatch.web import changing, trials
from wickwatch.web.access import Call, FormToken, PageCall
from wickwatch.web.api.fields import uuid
from wickwatch.web.forms import FormFields, number
from wickwatch.web.pages import set_up_forms as forms
from wickwatch.web.pages.show import go, part, show
from wickwatch.web.problems import not_found
from wickwatch.web.views import set_up_rules as view
from wickwatch.web.views.fields import told
from wickwatch.web.views.rule_trial import trial_view
from wickwatch.web.views.rule_words import rule_shown, rule_typed

router = APIRouter(prefix="/set-up/{slug}/rules")

#: How far back a change is tried.
BACK = timedelta(days=30)

Slug = Annotated[str, Query(max_length=63)]


@dataclass(frozen=True)
class _At:
    """Where rules are given: the place, its id, the facility with the room it is in, and the rooms to look at."""

    facility: Visible
    declared: DeclaredFacility
    rooms: tuple[stored.RoomCounts, ...]
    place: Place
    id: UUID

    @property
    def base(self) -> str:
        """The path of the facility's rules."""
        return f"/set-up/{self.facility.slug}/rules"

    def link(self, **asked: str) -> str:
        """The path of this place's rules, with what else is asked for."""
        named = {} if self.place.kind == "facility" else {"room": self.room, self.place.kind: self.place.slug}
        query = urlencode(named | asked)
        return f"{self.base}?{query}" if query else self.base

    @property
    def room(self) -> str:
        """The room that the place is or stands in, empty for a facility."""
        return self.place.in_room or ""


@router.get("")
def page(
    request: Request,
    call: PageCall,
    slug: str,
    room: Slug = "",
    reservoir: Slug = "",
    container: Slug = "",
    trial: Slug = "",
    saved: Slug = "",
    part_of: Annotated[str, Query(alias="part", max_length=10)] = "",
) -> Response:
    """Rules of a place, and what came out of trying others."""
    at = _at(call, slug, room, reservoir, container)
    return _page(request, call, at, trial=trial, saved=bool(saved), part_of=part_of)


@router.post("")
def change(
    request: Request,
    call: PageCall,
    slug: str,
    typed: FormFields,
    room: Slug = "",
    reservoir: Slug = "",
    container: Slug = "",
) -> Response:
    """Save rules, or try them first."""
    call.check_form(typed.get("form_token"))
    at = _at(call, slug, room, reservoir, container)
    # What the page does not show at such a place, a fleet file may have given there: it stays.
    shown = view.rules_shown(at.place.kind)
    there = editing.rules_given(at.declared, at.place)
    kept = {name: value for name, value in there.items() if name not in shown}
    given = {name: text for name in shown if (text := typed.get(name, "").strip())}
    rules = kept | {name: rule_typed(name, number(text), text, there.get(name)) for name, text in given.items()}
    try:
        if typed.get("do") == "try":
            return _tried(call, at, rules)
        whole = at.place.kind == "facility"
        table = {"rules": rules or None}
        changing.change_place(
            call, at.facility, lambda there: editing.edit(there, at.place, table), at.room or None, whole=whole
        )
    except (InputError, RefusedError) as error:
        return _page(request, call, at, typed=typed, error=error)
    return go(at.link(saved="yes"))


@router.post("/trials/{id}/end")
def end(call: PageCall, slug: str, id: str, form_token: FormToken = "") -> Response:
    """End a trial of rules that is under way."""
    call.check_form(form_token)
    facility = forms.managed(call, slug)
    with call.web.connection() as conn:
        rule_trials.cancel(conn, uuid(id, N_("trial")), facility.id, call.now)
    return go(f"/set-up/{facility.slug}/rules")


def _tried(call: Call, at: _At, rules: Mapping[str, object]) -> Response:
    """Order a trial over the room that the place is in, or the whole facility, and lead to where it is shown.

    Raises InputError and RefusedError.
    """
    over = next((one for one in at.rooms if one.slug == at.room), None)
    room_id, room = (over.id, over.slug) if over else (None, None)
    there = forms.facility_with(call, at.facility, [room] if room else None)
    wanted = editing.rules_given(editing.edit(there, at.place, {"rules": rules or None}), at.place)
    with call.web.connection() as conn:
        start = rule_trials.heard_from(conn, at.facility.id, room_id, call.now - BACK)
        if start is None:
            where = over.name if over else at.facility.name
            raise RefusedError(_("%(name)s has no readings of the last 30 days to try them on", name=where))
        made = rule_trials.Trial(at.facility.id, room_id, at.id, at.place, room, wanted, start, call.now)
        id = rule_trials.order(conn, made, call.person_id, call.now)
    if id is None:
        raise RefusedError(_("other rules are being tried in this facility; wait for them, or end that"))
    trials.start(call.web, id)
    return go(f"{at.link(trial=str(id))}#trial")


def _page(
    request: Request,
    call: Call,
    at: _At,
    *,
    typed: Mapping[str, str] | None = None,
    error: InputError | RefusedError | None = None,
    trial: str = "",
    saved: bool = False,
    part_of: str = "",
) -> Response:
    with call.web.connection() as conn:
        tried = rule_trials.newest(conn, at.facility.id, at.id)
    given = editing.rules_given(at.declared, at.place)
    wanted = tried is not None and str(tried.id) == trial
    texts = dict(typed or {})
    if tried is not None and wanted:
        texts = {name: rule_shown(name, tried.rules[name]) if name in tried.rules else "" for name in RULES}
    fields, others = ({}, ()) if error is None else _wrong(error, at.place, texts)
    shown = trial_view(tried, ZoneInfo(at.facility.zone), call.now) if tried is not None and wanted else None
    live = at.link(trial=trial, part="trial") if shown and shown.under_way else ""
    made = view.RulesPage(
        facility=at.facility,
        title=view.title(at.declared, at.place),
        action=at.link(),
        above=_above(at),
        below=view.below(at.declared, at.rooms, at.place, at.base),
        groups=view.groups(at.place.kind, view.levels(at.declared, at.place), given, texts, fields),
        errors=others,
        trial=shown,
        again=at.link(trial=trial),
        live=live,
        saved=saved,
    )
    if part_of == "trial":
        return part(request, call, "set_up_trial.html", made, form_token=call.form_token())
    return show(request, call, "set_up_rules.html", made, status=422 if error else 200)


def _wrong(
    error: InputError | RefusedError, place: Place, typed: Mapping[str, str]
) -> tuple[dict[str, str], tuple[str, ...]]:
    if isinstance(error, RefusedError):
        return {}, (str(error),)
    return told(error, RULES, str(place), typed)


def _above(at: _At) -> tuple[view.PlaceLink, ...]:
    if at.place.kind == "facility":
        return ()
    found = [view.PlaceLink(at.facility.name, at.base, len(at.declared.rules))]
    if at.place.room is not None:
        room = at.declared.rooms[0]
        found.append(view.PlaceLink(room.name, f"{at.base}?room={room.slug}", len(room.rules)))
    return tuple(found)


def _at(call: Call, slug: str, room: str, reservoir: str, container: str) -> _At:
    """The place that an address names; 404 where it is not there."""
    facility = forms.managed(call, slug)
    declared = forms.facility_with(call, facility, [room] if room else [])
    with call.web.connection() as conn:
        rooms = tuple(stored.room_counts(conn, facility.id))
        if not room:
            return _At(facility, declared, rooms, Place("facility", slug, None, slug), facility.id)
        counts = next((one for one in rooms if one.slug == room), None)
        if counts is None or not declared.rooms:
            raise not_found(N_("room"))
        kind, part_slug = ("reservoir", reservoir) if reservoir else ("container", container)
        if not part_slug:
            return _At(facility, declared, rooms, Place("room", slug, None, room), counts.id)
        id = stored.part_id(conn, counts.id, kind, part_slug)
        if id is None:
            raise not_found(kind)
        return _At(facility, declared, rooms, Place(kind, slug, room, part_slug), id)
