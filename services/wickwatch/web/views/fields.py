"""Fields of a form as a page shows them: filled with what is there or was typed, each with what is wrong about it.

Not here: which fields each kind of thing has (`web.views.part_fields`), or reading them (`web.forms`).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import time
from typing import Literal

from wickwatch import texts
from wickwatch.errors import InputError
from wickwatch.fleet.document import DocumentError
from wickwatch.texts import _, volume_unit


@dataclass(frozen=True)
class Field:
    """One field; `suggestions` may be taken, `choices` (value, label) must be. `unit` stands behind the label."""

    name: str
    label: str
    kind: Literal["text", "number", "time", "choice", "rows"] = "text"
    hint: str = ""
    unit: str = ""
    required: bool = False
    choices: tuple[tuple[str, str], ...] = ()
    suggestions: tuple[str, ...] = ()
    value: str = ""
    error: str = ""


@dataclass(frozen=True)
class Group:
    """Fields that belong together; `id` names the part of the page."""

    id: str
    heading: str
    fields: tuple[Field, ...]
    hint: str = ""


def all_fields(groups: Sequence[Group]) -> list[Field]:
    """The fields of all groups."""
    return [field for group in groups for field in group.fields]


def filled(groups: Sequence[Group], texts: Mapping[str, str], errors: Mapping[str, str]) -> tuple[Group, ...]:
    """The same with texts and errors by name; a field without a text keeps its own."""

    def one(field: Field) -> Field:
        return replace(field, value=texts.get(field.name, field.value), error=errors.get(field.name, ""))

    return tuple(replace(group, fields=tuple(map(one, group.fields))) for group in groups)


def shown(values: Mapping[str, object]) -> dict[str, str]:
    """Values of a fleet file's table as fields show them, water in the reader's unit."""
    return {name: _shown(_water(name, value, volume_unit().shown)) for name, value in values.items()}


def inside(name: str, value: object) -> object:
    """What a field holds as a fleet file has it, water in litres."""
    return _water(name, value, volume_unit().inside)


def _water(name: str, value: object, turn: Callable[[float], float]) -> object:
    """A volume, or the fillings of a tank (level, volume), with each volume turned; anything else as it is."""
    if name == "volume_l" and isinstance(value, int | float):
        return _rounded(value, turn)
    if name == "strapping" and isinstance(value, list | tuple):
        return [[level, _rounded(filling, turn)] for level, filling in value]
    return value


def _rounded(value: float, turn: Callable[[float], float]) -> float:
    return value if volume_unit().size == 1.0 else float(f"{turn(value):.6g}")


def told(
    error: InputError, names: Iterable[str], where: str, typed: Mapping[str, str] | None = None
) -> tuple[dict[str, str], tuple[str, ...]]:
    """What is wrong by field, and in sentences what belongs to no field of the thing at `where`; `typed` by field.

    Problems are called by their place and key, as the fleet file's reader does: `facility a, room b: lights_on`. A new
    thing's `where` ends before its slug, which may be what is wrong.
    """
    problems = error.problems if isinstance(error, DocumentError) else (error,)
    fields: dict[str, str] = {}
    others = []
    for problem in problems:
        at, _, key = problem.thing.rpartition(": ")
        name = _FIELD_OF.get(key, key)
        if name in names and (at == where or (at.startswith(f"{where} ") and "," not in at[len(where) :])):
            fields.setdefault(name, _sentence(problem, (typed or {}).get(name)))
        else:
            others.append(str(problem))
    return fields, tuple(others)


#: Problems of several keys at once, with the field they are shown at.
_FIELD_OF = {"outlet_mm plus head_mm": "outlet_mm"}


def _sentence(problem: InputError, typed: str | None) -> str:
    value = typed or problem.value
    text = value if isinstance(value, str) else repr(value)
    if text == "missing" or value is None:
        return _("This is needed: %(accepted)s.", accepted=problem.accepted)
    return _("“%(text)s” can't be taken. Accepted: %(accepted)s.", text=text[:60], accepted=problem.accepted)


def _shown(value: object) -> str:
    if isinstance(value, time):
        return value.isoformat("minutes")
    if isinstance(value, float):
        return texts.field(value)
    if isinstance(value, list | tuple):
        return "\n".join(" ".join(_shown(part) for part in row) for row in value)
    return "" if value is None else str(value)
