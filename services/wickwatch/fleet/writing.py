"""The fleet file, written: what is declared as TOML that reads back to the same.

Not here: reading (`fleet.document`). Written by hand in the contract's order and indentation, because the file is for
people to keep, compare and edit; only what differs from a default is written.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import MISSING, Field, fields
from datetime import time
from typing import Any

from wickwatch.fleet.declared import Declared, DeclaredFacility, DeclaredReservoir

#: Fields that hold tables of their own, with the key of each.
TABLES = {
    "gateways": "gateway",
    "rooms": "room",
    "reservoirs": "reservoir",
    "lines": "line",
    "containers": "container",
}


def to_toml(facilities: Sequence[DeclaredFacility]) -> str:
    """The fleet file of these facilities."""
    return "\n".join(line for facility in facilities for line in _table("facility", facility, 0))


def to_values(one: Declared) -> dict[str, Any]:
    """The table of one thing and all that stands in it, as `fleet.document.declare` reads it."""
    values: dict[str, Any] = dict(_keys(one))
    for field in fields(one):
        if field.name in TABLES:
            values[TABLES[field.name]] = [to_values(below) for below in getattr(one, field.name)]
    return values


def _table(path: str, one: Declared, depth: int) -> Iterator[str]:
    indent = "  " * depth
    yield f"{indent}[[{path}]]"
    for key, value in _keys(one):
        yield f"{indent}{key} = {text_of(value)}"
    yield ""
    for field in fields(one):
        if field.name in TABLES:
            for below in getattr(one, field.name):
                yield from _table(f"{path}.{TABLES[field.name]}", below, depth + 1)


def _keys(one: Declared) -> Iterator[tuple[str, object]]:
    for field in fields(one):
        value = getattr(one, field.name)
        if field.name in TABLES or value == _default(field, one):
            continue
        if field.name == "keys" and isinstance(one, DeclaredReservoir):
            yield from one.keys.items()
        else:
            yield field.name, value


def _default(field: Field[object], one: Declared) -> object:
    if field.name == "name":
        return one.slug
    if field.default_factory is not MISSING:
        return field.default_factory()
    return field.default


def text_of(value: object) -> str:
    """One value as TOML writes it; `none` where nothing is given."""
    if isinstance(value, time):
        return f'"{value.isoformat("minutes")}"'
    if isinstance(value, float):
        return str(int(value)) if value.is_integer() and abs(value) < 1e15 else repr(value)
    if isinstance(value, Mapping):
        parts = [f"{key} = {text_of(part)}" for key, part in value.items()]
        return "{ " + ", ".join(parts) + " }" if parts else "{}"
    if isinstance(value, Sequence) and not isinstance(value, str):
        return "[" + ", ".join(map(text_of, value)) + "]"
    if value is None:
        return "none"
    return _text(value) if isinstance(value, str) else str(value)


def _text(value: str) -> str:
    """A TOML basic string; of control characters only the end of a line can be in what was read."""
    return '"' + value.replace("\\", "\\\\").replace('"', '\\"').replace("\n", "\\n") + '"'
