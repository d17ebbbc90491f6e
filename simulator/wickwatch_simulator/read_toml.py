"""Reading values from a TOML table with errors that name file, place, key, value and what is accepted.

Not here: what any key means. Kept apart so that templates, facilities and events complain in the same words.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, datetime
from typing import Any

from wickwatch.errors import InputError

_MISSING = object()


class Table:
    """One table of a file; each `take` removes the key, and `done` complains about what was not understood."""

    def __init__(self, where: str, values: Any) -> None:
        if not isinstance(values, Mapping):
            raise InputError(where, values, "a table")
        self.where = where
        self._left = dict(values)
        self._known: list[str] = []

    def has(self, key: str) -> bool:
        """Whether the key is there and not yet taken."""
        return key in self._left

    def _take(self, key: str, default: Any) -> Any:
        self._known.append(key)
        value = self._left.pop(key, default)
        if value is _MISSING:
            raise InputError(f"{self.where}: {key}", "", "a value; this key must be given")
        return value

    def text(self, key: str, default: Any = _MISSING, accepted: tuple[str, ...] = ()) -> str:
        """A text, one of `accepted` if any are given."""
        value = self._take(key, default)
        if not isinstance(value, str) or (accepted and value not in accepted):
            raise InputError(f"{self.where}: {key}", value, "one of " + ", ".join(accepted) if accepted else "a text")
        return value

    def number(self, key: str, low: float, high: float, default: Any = _MISSING) -> float:
        """A number within [low, high]."""
        value = self._take(key, default)
        if isinstance(value, bool) or not isinstance(value, int | float) or not low <= value <= high:
            raise InputError(f"{self.where}: {key}", value, f"a number from {low:g} to {high:g}")
        return float(value)

    def whole(self, key: str, low: int, high: int, default: Any = _MISSING) -> int:
        """A whole number within [low, high]."""
        value = self.number(key, low, high, default)
        if value != int(value):
            raise InputError(f"{self.where}: {key}", value, f"a whole number from {low} to {high}")
        return int(value)

    def range(self, key: str, low: float, high: float, default: Any = _MISSING) -> tuple[float, float]:
        """[least, most] within [low, high]; one number stands for both."""
        value = self._take(key, default)
        pair = value if isinstance(value, list | tuple) else [value, value]
        good = len(pair) == 2 and all(isinstance(v, int | float) and not isinstance(v, bool) for v in pair)
        if not good or not low <= pair[0] <= pair[1] <= high:
            raise InputError(f"{self.where}: {key}", value, f"a number, or [least, most], from {low:g} to {high:g}")
        return float(pair[0]), float(pair[1])

    def clock(self, key: str, default: Any = _MISSING) -> int:
        """Minutes after midnight from "HH:MM"."""
        value = self._take(key, default)
        parts = value.split(":") if isinstance(value, str) else []
        if (
            len(parts) != 2
            or not all(p.isdigit() and len(p) == 2 for p in parts)
            or int(parts[0]) > 23
            or int(parts[1]) > 59
        ):
            raise InputError(f"{self.where}: {key}", value, "a time such as 06:00")
        return int(parts[0]) * 60 + int(parts[1])

    def moment(self, key: str) -> datetime:
        """A time with its zone, as UTC."""
        value = self._take(key, _MISSING)
        if not isinstance(value, datetime) or value.tzinfo is None:
            raise InputError(f"{self.where}: {key}", str(value), "a time with its zone, such as 2026-03-02T00:00:00Z")
        return value.astimezone(UTC)

    def numbers(self, key: str) -> dict[str, float]:
        """A table of numbers by name; empty if not given."""
        value = self._take(key, {})
        if not isinstance(value, Mapping) or any(
            isinstance(v, bool) or not isinstance(v, int | float) for v in value.values()
        ):
            raise InputError(f"{self.where}: {key}", value, "a table of numbers")
        return {str(name): float(v) for name, v in value.items()}

    def tables(self, key: str) -> list[Any]:
        """A list, empty if not given."""
        value = self._take(key, [])
        if not isinstance(value, list):
            raise InputError(f"{self.where}: {key}", value, f"tables written [[{key}]]")
        return value

    def table(self, key: str) -> Table:
        """A table within this one, empty if not given."""
        return Table(f"{self.where}: {key}", self._take(key, {}))

    def done(self) -> None:
        """Complain about the first key that nobody took."""
        for key, value in self._left.items():
            raise InputError(f"{self.where}: {key}", value, "one of the keys " + ", ".join(self._known))
