"""One thing of a facility added, changed or taken out, as a page does it, judged by the fleet file's own rules.

A facility is brought to the tables of its file, the one table is changed, and all of it is read again: so a page takes
what a file takes and refuses it in the same words. Not here: what then changes in the store (`fleet.difference`).
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from wickwatch.errors import InputError
from wickwatch.fleet.declared import DeclaredFacility
from wickwatch.fleet.difference import Change, Place, difference
from wickwatch.fleet.document import declare
from wickwatch.fleet.table import SLUG
from wickwatch.fleet.writing import to_values
from wickwatch.texts import _

#: Keys that name another thing of the same room, by the kind of thing named: (kind that has the key, key).
_NAMED_BY = {"reservoir": ("line", "reservoir"), "line": ("container", "line")}

#: Letters that Unicode does not take apart into a letter and its mark.
_LETTERS = str.maketrans({"ø": "o", "æ": "ae", "ß": "ss", "ł": "l", "đ": "d", "ð": "d", "þ": "th", "œ": "oe"})


def slug_from(name: str) -> str:
    """A slug for what people call something; empty where no letter or digit of it can be used."""
    plain = unicodedata.normalize("NFKD", name.lower().translate(_LETTERS)).encode("ascii", "ignore").decode()
    return re.sub(r"[^a-z0-9]+", "-", plain).strip("-")[:63].rstrip("-")


def new_facility(values: Mapping[str, object]) -> DeclaredFacility:
    """A facility with nothing in it. Raises DocumentError."""
    return _read(_given(values))


def add(
    facility: DeclaredFacility, kind: str, room: str | None, tables: Sequence[Mapping[str, object]]
) -> DeclaredFacility:
    """The facility with more things of a kind, in a room where they stand in one. Raises DocumentError."""
    whole = to_values(facility)
    _group(whole, kind, room).extend(_given(table) for table in tables)
    return _read(whole)


def edit(facility: DeclaredFacility, place: Place, values: Mapping[str, object]) -> DeclaredFacility:
    """The facility with some keys of one thing set, those that are None taken away. Raises DocumentError."""
    whole = to_values(facility)
    table = _find(whole, place)
    kept = {key: value for key, value in table.items() if key not in values}
    table.clear()
    table.update(kept | _given(values))
    return _read(whole)


def remove(facility: DeclaredFacility, place: Place) -> DeclaredFacility:
    """The facility without one thing and what stands in it; what was fed by it is fed by nothing known."""
    whole = to_values(facility)
    gone = _find(whole, place)
    _group(whole, place.kind, place.room).remove(gone)
    if place.kind in _NAMED_BY:
        kind, key = _NAMED_BY[place.kind]
        for other in _group(whole, kind, place.room):
            if other.get(key) == place.slug:
                del other[key]
    return _read(whole)


def end(facility: DeclaredFacility) -> list[Change]:
    """What takes a facility out of use, as no fleet file does. Raises InputError while it has rooms."""
    if facility.rooms:
        raise InputError("facility", facility.slug, _("a facility without rooms: take these out of use first"))
    last = Change("retire", Place("facility", facility.slug, None, facility.slug))
    return [*difference([replace(facility, gateways=())], [facility]), last]


def rules_given(facility: DeclaredFacility, place: Place) -> dict[str, float]:
    """The rules that are given at one thing itself."""
    return dict(_find(to_values(facility), place).get("rules", {}))


def _given(values: Mapping[str, object]) -> dict[str, object]:
    return {key: value for key, value in values.items() if value is not None}


def _read(whole: Mapping[str, object]) -> DeclaredFacility:
    (facility,) = declare({"facility": [whole]}, _("what you gave"))
    return facility


def _group(whole: dict[str, Any], kind: str, room: str | None) -> list[dict[str, Any]]:
    """The tables of a kind, in the facility or in one of its rooms."""
    if room is None:
        return whole.setdefault(kind, [])  # type: ignore[no-any-return]
    return _find(whole, Place("room", whole["slug"], None, room)).setdefault(kind, [])  # type: ignore[no-any-return]


def _find(whole: dict[str, Any], place: Place) -> dict[str, Any]:
    """The table of one thing. Raises InputError where it is not there."""
    if place.kind == "facility":
        return whole
    for table in _group(whole, place.kind, place.room):
        if table["slug"] == place.slug:
            return table
    shown = place.slug if SLUG.fullmatch(place.slug) else "…"
    raise InputError(place.kind, shown, _("the slug of a %(kind)s that is there", kind=place.kind))
