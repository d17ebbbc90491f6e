"""What somebody typed into a form of set-up, as the values that a fleet file would hold.

What can't be read stays the text it was: the fleet file's own reader then says what is accepted. Not here: which
fields a form has (`web.views.fields`).
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from typing import Annotated

from fastapi import Depends, Request

from wickwatch.texts import _, point
from wickwatch.web.problems import ProblemError
from wickwatch.web.views.fields import Field, inside, shown

#: Characters of one field; a strapping table of some hundred rows is the longest.
_LONGEST = 20_000

#: The other sign before three digits may mean thousands where one is the reader's point: it is not guessed.
_THOUSANDS = {".": re.compile(r"\d,\d{3}(\D|$)"), ",": re.compile(r"\d\.\d{3}(\D|$)")}


async def form_fields(request: Request) -> Mapping[str, str]:
    """The text fields of a form; raises 422 for one that is too long."""
    async with request.form(max_files=0, max_fields=200) as form:
        found = {name: value.replace("\r\n", "\n") for name, value in form.items() if isinstance(value, str)}
    for name, value in found.items():
        if len(value) > _LONGEST or "\0" in value:
            raise ProblemError(422, _("%(name)s is too long, or no text", name=name[:60]))
    return found


#: All fields of a form, where these depend on what is edited.
FormFields = Annotated[Mapping[str, str], Depends(form_fields)]


def read(
    fields: Sequence[Field], typed: Mapping[str, str], there: Mapping[str, object] | None = None
) -> dict[str, object]:
    """Values of fields by name, as a fleet file has them; None where nothing is given.

    What is as the field showed it of the values that are `there` stays exactly what it is there.
    """
    found = {each.name: inside(each.name, _value(each, typed.get(each.name, ""))) for each in fields}
    for name, text in shown(there or {}).items():
        if name in found and typed.get(name, "").strip() == text.strip():
            found[name] = (there or {})[name]
    return found


def number(text: str) -> float | str | None:
    """A number with a point or a comma, the text where it is none, None where it is empty."""
    text = text.strip()
    if not text or _THOUSANDS[point()].search(text):
        return text or None
    try:
        value = float(text.replace(",", "."))
    except ValueError:
        return text
    if not math.isfinite(value):
        return text
    return int(value) if value.is_integer() and abs(value) < 1e15 else value


def _value(field: Field, text: str) -> object:
    if field.kind == "number":
        return number(text)
    if field.kind == "rows":
        return _rows(text)
    return " ".join(text.split()) or None


def _rows(text: str) -> object:
    """Rows of two numbers; the text where a row is none, None where it is empty."""
    rows = [[number(part) for part in re.split(r"[\s;]+", line.strip())] for line in text.splitlines() if line.strip()]
    if any(len(row) != 2 or any(isinstance(part, str) for part in row) for row in rows):
        return text
    return rows or None
