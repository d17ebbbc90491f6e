"""Kinds of values that calls take: ids, times, cursors, texts. Whatever cannot be meant ends as 422 or 404 here.

Not here: what each call answers (`models`).
"""

from __future__ import annotations

import base64
import binascii
import json
from datetime import UTC, date, datetime
from typing import Annotated
from uuid import UUID

from fastapi import Query
from pydantic import AfterValidator, AwareDatetime, BaseModel, ConfigDict, StringConstraints

from wickwatch.errors import InputError
from wickwatch.texts import N_, _
from wickwatch.web.problems import not_found

_EARLIEST = datetime(1970, 1, 1, tzinfo=UTC)
_LATEST = datetime(2200, 1, 1, tzinfo=UTC)

#: Years that a form takes.
EARLIEST_YEAR, LATEST_YEAR = 2000, 2199


def _moment(value: datetime) -> datetime:
    try:
        at = value.astimezone(UTC)
    except OverflowError:
        at = _LATEST
    if not _EARLIEST <= at < _LATEST:
        raise ValueError("a time from 1970 to 2199 is accepted")
    return at


def _printable(value: str) -> str:
    if not all(letter.isprintable() or letter in "\n\t" for letter in value):
        raise ValueError("printable characters are accepted")
    return value


#: A time with its offset, RFC 3339; UTC inside.
Moment = Annotated[AwareDatetime, AfterValidator(_moment)]

#: Free text of a person.
Note = Annotated[str, StringConstraints(max_length=2000, strip_whitespace=True), AfterValidator(_printable)]

#: A name in addresses and files.
Slug = Annotated[str, StringConstraints(pattern=r"^[a-z0-9][a-z0-9-]{0,62}$")]

Limit = Annotated[int, Query(ge=1, le=1000, description="most items in one answer")]

CursorText = Annotated[
    str | None,
    Query(max_length=200, description="`next_cursor` of the answer before; continues after its last item"),
]


class Body(BaseModel):
    """A body; a field nobody knows is refused, so that a slip of the pen is not taken for silence."""

    model_config = ConfigDict(extra="forbid")


def day(thing: str, text: str) -> date:
    """A day in a form. Raises InputError."""
    try:
        found = date.fromisoformat(text)
    except ValueError:
        found = date.min
    if not EARLIEST_YEAR <= found.year <= LATEST_YEAR:
        raise InputError(thing, text, _("a day, such as 2026-11-23"))
    return found


def uuid(text: str, thing: str) -> UUID:
    """An id from an address; 404 for what can't be one, as for any id that is nobody's."""
    try:
        return UUID(text)
    except ValueError:
        raise not_found(thing) from None


def channel_number(text: str) -> int:
    """A channel's id from an address."""
    if not (text.isascii() and text.isdigit() and len(text) <= 10 and 0 < int(text) < 2**31):
        raise not_found(N_("channel"))
    return int(text)


def pack(*parts: str) -> str:
    """A cursor: opaque to those who pass it on."""
    return base64.urlsafe_b64encode(json.dumps(parts).encode()).decode().rstrip("=")


def unpack(cursor: str, parts: int) -> list[str]:
    """The parts of a cursor. Raises InputError."""
    try:
        found = json.loads(base64.urlsafe_b64decode(cursor + "=" * (-len(cursor) % 4)))
    except (ValueError, binascii.Error, RecursionError):
        found = None
    if not isinstance(found, list) or len(found) != parts or not all(isinstance(part, str) for part in found):
        raise InputError(_("cursor"), cursor, _("next_cursor of the answer before"))
    return found


def cursor_moment(text: str, cursor: str) -> datetime:
    """A time in a cursor. Raises InputError."""
    try:
        return _moment(datetime.fromisoformat(text))
    except (ValueError, TypeError):
        raise InputError(_("cursor"), cursor, _("next_cursor of the answer before")) from None


def cursor_uuid(text: str, cursor: str) -> UUID:
    """An id in a cursor. Raises InputError."""
    try:
        return UUID(text)
    except ValueError:
        raise InputError(_("cursor"), cursor, _("next_cursor of the answer before")) from None
