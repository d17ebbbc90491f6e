"""One table of a fleet file, read key by key with every problem noted and none fatal.

Not here: which keys there are (`fleet.document`). A value that can't be taken is noted and replaced by one that can, so
that reading goes on and a person sees all problems of a file at once; the result counts only if none was noted.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from datetime import time
from typing import Any
from zoneinfo import ZoneInfo

from wickwatch.errors import InputError
from wickwatch.fleet.advice import check_advice
from wickwatch.fleet.rules import Rules, check, inherit
from wickwatch.texts import N_, _, general

SLUG = re.compile(r"[a-z0-9][a-z0-9-]{0,62}")
SLUG_ACCEPTED = N_("a slug: up to 63 small letters, digits and hyphens, the first no hyphen")

# Names as RFC 8428, section 4.5.1, allows them; the length is what the store takes.
_CHANNEL = re.compile(r"[A-Za-z0-9][A-Za-z0-9\-:./_]{0,254}:([a-z]+)")
_CLOCK = re.compile(r"([01]\d|2[0-3]):([0-5]\d)")


class _Missing:
    """Stands for a value that is not given."""

    def __repr__(self) -> str:
        return "missing"


class Table:
    """Values of one table at `where`; each method takes one key, `done` notes the keys that none took.

    `clean` is true while nothing was noted here, so that what depends on several keys is checked on good ones only.
    """

    def __init__(self, where: str, values: Any, problems: list[InputError]) -> None:
        self.where = where
        self.problems = problems
        self.clean = True
        self._left: dict[str, Any] = {}
        self._known: list[str] = []
        if isinstance(values, Mapping):
            self._left = dict(values)
        else:
            problems.append(InputError(where, values, _("a table of keys")))

    def note(self, key: str, value: object, accepted: str) -> None:
        """Note a problem with a key; `None` where it is not given."""
        self.clean = False
        self.problems.append(InputError(f"{self.where}: {key}", _Missing() if value is None else value, accepted))

    def take(self, key: str, *, needed: bool = False, accepted: str = "") -> Any:
        """The raw value of a key, `None` where it is not given; noted where it is needed."""
        self._known.append(key)
        if needed and key not in self._left:
            self.note(key, None, accepted)
        return self._left.pop(key, None)

    def text(self, key: str) -> str | None:
        """A line of text, 1 to 100 characters."""
        value = self.take(key)
        if value is None:
            return None
        if not isinstance(value, str) or not 1 <= len(value) <= 100 or not value.isprintable() or value.isspace():
            self.note(key, value, _("a line of text, 1 to 100 characters"))
            return None
        return value

    def slug(self) -> str:
        """The slug, which everything has."""
        value = self.take("slug", needed=True, accepted=_(SLUG_ACCEPTED))
        if isinstance(value, str) and SLUG.fullmatch(value):
            return value
        if value is not None:
            self.note("slug", value, _(SLUG_ACCEPTED))
        return ""

    def reference(self, key: str, what: str, known: Sequence[str]) -> str | None:
        """A slug of something else in the same room."""
        value = self.take(key)
        if value is None:
            return None
        if value not in known:
            accepted = _("a %(kind)s of the same room, which has none", kind=what)
            if known:
                accepted = _("a %(kind)s of the same room: %(names)s", kind=what, names=", ".join(known[:10]))
            self.note(key, value, accepted)
            return None
        return str(value)

    def number(self, key: str, low: float, high: float, *, needed: bool = False) -> float | None:
        """A finite number in a range, both ends included."""
        accepted = _("a number from %(low)s to %(high)s", low=general(low), high=general(high))
        value = self.take(key, needed=needed, accepted=accepted)
        if value is None:
            return None
        if isinstance(value, bool) or not isinstance(value, int | float) or not low <= value <= high:
            self.note(key, value, accepted)
            return None
        return float(value)

    def whole(self, key: str, low: int, high: int, default: int) -> int:
        """A whole number in a range, both ends included."""
        value = self.take(key)
        if value is None:
            return default
        if isinstance(value, bool) or not isinstance(value, int) or not low <= value <= high:
            self.note(key, value, _("a whole number from %(low)s to %(high)s", low=low, high=high))
            return default
        return value

    def choice(self, key: str, choices: Sequence[str], default: str | None = None) -> str:
        """One of a few words, needed where there is no default."""
        accepted = _("one of %(names)s", names=", ".join(choices))
        value = self.take(key, needed=default is None, accepted=accepted)
        if value is not None and value not in choices:
            self.note(key, value, accepted)
        return value if isinstance(value, str) and value in choices else default or choices[0]

    def clock(self, key: str) -> time:
        """A time of day, as text `HH:MM` or as TOML's own local time on the minute."""
        accepted = _('a time of day such as "06:00"')
        value = self.take(key, needed=True, accepted=accepted)
        if isinstance(value, time) and value == value.replace(second=0, microsecond=0):
            return value
        match = _CLOCK.fullmatch(value) if isinstance(value, str) else None
        if match is None:
            if value is not None:
                self.note(key, str(value) if isinstance(value, time) else value, accepted)
            return time(0)
        return time(int(match[1]), int(match[2]))

    def zone(self) -> str:
        """A name of the time zone database."""
        accepted = _("a name of the time zone database, such as Europe/Oslo")
        value = self.take("zone", needed=True, accepted=accepted)
        try:
            return ZoneInfo(value).key if value is not None else "UTC"
        except (TypeError, ValueError, OSError, LookupError, AttributeError):
            self.note("zone", value, accepted)
            return "UTC"

    def channel(self, key: str, quantity: str) -> str | None:
        """The name of a channel of one quantity."""
        value = self.take(key)
        if value is None:
            return None
        match = _CHANNEL.fullmatch(value) if isinstance(value, str) else None
        if match is None or match[1] != quantity:
            self.note(
                key,
                value,
                _("a channel of %(quantity)s, such as urn:dev:mac:0024befffe804ff1:%(quantity)s", quantity=quantity),
            )
            return None
        return str(value)

    def rules(self, above: Rules) -> tuple[dict[str, float], Rules]:
        """Rules given here, and those in force with them; the ones above where these can't be."""
        given = self.take("rules")
        if given is None:
            return {}, above
        if not isinstance(given, Mapping):
            self.note("rules", given, _("a table of numbers by rule"))
            return {}, above
        values: dict[str, float] = {}
        for name, value in given.items():
            try:
                values.update(check({name: value}, self.where))
            except InputError as problem:
                self.problems.append(problem)
        try:
            return values, inherit(above, values, self.where)
        except InputError as problem:
            self.problems.append(problem)
            return values, above

    def advice(self) -> dict[str, str]:
        """The facility's own text by kind of alarm."""
        given = self.take("advice")
        if given is None:
            return {}
        if not isinstance(given, Mapping):
            self.note("advice", given, _("a table of texts by kind of alarm"))
            return {}
        texts: dict[str, str] = {}
        for kind, text in given.items():
            try:
                texts.update(check_advice({kind: text}, self.where))
            except InputError as problem:
                self.problems.append(problem)
        return texts

    def tables(self, key: str) -> list[Any]:
        """An array of tables, empty where there is none."""
        value = self.take(key)
        if value is None:
            return []
        if not isinstance(value, list):
            self.note(key, type(value).__name__, _("tables that begin with [[…%(key)s]]", key=key))
            return []
        return value

    def done(self) -> None:
        """Note every key that nothing took."""
        for key in self._left:
            self.note("key", key, _("one of %(names)s", names=", ".join(self._known)))
