"""Sensor Measurement Lists resolved as RFC 8428 says, with the versions of RFC 9100.

Here: from octets to records with full name, unit, value and absolute time. Not here: which names, units and values
Wickwatch takes (`accept`).

A bad record never loses the good ones of its pack. What later records stand on is the exception: after a base field
that can't be read, or an unknown one whose label ends in `_` (to be understood or not to be used), nothing that
follows can be told for sure, and all of it is refused. An unknown label ending in `_` that is no base field concerns
its own record only. A version that is not understood refuses the pack.
"""

from __future__ import annotations

import base64
import re
from collections.abc import Container, Sequence
from decimal import Decimal
from typing import Any

from wickwatch.ingest.forms import Form, decode
from wickwatch.ingest.pack import Pack, Value
from wickwatch.ingest.reasons import Fault, PackRefused, Reason, shown

#: Times below this many seconds count from now (RFC 8428, 4.5.3).
RELATIVE_BELOW = 2**28

#: Version of RFC 8428; lower ones were its drafts. Feature bit 4 of RFC 9100 adds the secondary units of RFC 8798.
VERSION = 10
_VERSIONS = frozenset((*range(1, VERSION + 1), VERSION + 2**4))

_VALUES = ("v", "vs", "vb", "vd")
_NUMBERS = frozenset((int, float))
_is_name = re.compile(r"[A-Za-z0-9][A-Za-z0-9\-:./_]*").fullmatch
_is_base64url = re.compile(r"[A-Za-z0-9_-]*").fullmatch
#: Name, unit, value, time before `now` is worked in, sum.
_Resolved = tuple[str, str | None, Value, float, float | None]


class _Bad(Exception):  # noqa: N818 - a record, not an error of ours
    """A record that can't be resolved."""

    def __init__(self, reason: Reason, detail: str) -> None:
        super().__init__(detail)
        self.reason = reason
        self.detail = detail


class _Base:
    """Base fields as they stand at one record; they hold until replaced. `broken` says why nothing further holds."""

    __slots__ = ("broken", "name", "sum", "time", "unit", "value", "version")

    def __init__(self) -> None:
        self.name = ""
        self.time = 0.0
        self.unit: str | None = None
        self.value: float | None = None
        self.sum: float | None = None
        self.broken = ""
        self.version = VERSION


def parse(payload: bytes, form: Form, now: float, known: Container[str] = ()) -> Pack:
    """Decode and resolve a payload that arrived at `now` (seconds since 1970 UTC). Raises only PackRefused.

    `known` are names that were found to be right before, which need no second look.
    """
    return resolve(decode(payload, form), now, known)


def resolve(entries: Sequence[object], now: float, known: Container[str] = ()) -> Pack:
    """Records with their base fields and `now` worked in. Raises PackRefused for a version not understood."""
    base = _Base()
    pack = Pack()
    add_name, add_unit, add_value = pack.names.append, pack.units.append, pack.values.append
    add_at, add_sum, add_number = pack.at.append, pack.sums.append, pack.numbers.append
    for number, entry in enumerate(entries):
        try:
            name, unit, value, at, total = _plain(entry, base) or _resolve_one(entry, number, base)
            if name not in known and not _is_name(name):
                raise _Bad("name", f"name {shown(name)}")
        except _Bad as bad:
            pack.faults.append(Fault(number, bad.reason, bad.detail))
            continue
        except OverflowError:  # an integer of hundreds of digits
            pack.faults.append(Fault(number, "not-finite", "a number too large for a double"))
            continue
        add_name(name)
        add_unit(unit)
        add_value(value)
        add_at(at + now if at < RELATIVE_BELOW else at)
        add_sum(total)
        add_number(number)
    return pack


def _plain(entry: object, base: _Base) -> _Resolved | None:
    """A record of nothing but a number under the four labels that most have; `None` for any other."""
    if not isinstance(entry, dict) or base.broken:
        return None
    get = entry.get
    name, time, unit = get("n"), get("t"), get("u")
    value: Any = get("v")
    if len(entry) != (name is not None) + (value is not None) + (time is not None) + (unit is not None):
        return None
    if type(value) not in _NUMBERS or type(name) is not str:
        return None
    if time is None:
        at = base.time
    elif type(time) in _NUMBERS:
        at = base.time + time
    else:
        return None
    if unit is None:
        unit = base.unit
    elif type(unit) is not str:
        return None
    return base.name + name, unit, (base.value or 0.0) + value, at, base.sum


def _resolve_one(entry: object, number: int, base: _Base) -> _Resolved:
    """Any record, by the long way. Its base fields are taken into `base` first: they hold even if the rest is bad."""
    if base.broken:
        raise _Bad("not-senml", f"it stands on {base.broken}")
    if not isinstance(entry, dict):
        raise _Bad("not-senml", f"a record is an object, this is {shown(entry)}")
    if "bver" in entry:
        _check_version(entry["bver"], number, base)
    try:
        _take_base(entry, base)
    except _Bad:
        base.broken = f"record {number}, whose base can't be read"
        raise
    for label in entry:
        if label.endswith("_"):
            raise _Bad("not-senml", f"label {shown(label)} must be understood and is not")
    name = base.name + _text(entry, "n", "")
    at = base.time + _number(entry, "t", 0.0)
    _number(entry, "ut", 0.0)
    total = None if base.sum is None and "s" not in entry else (base.sum or 0.0) + _number(entry, "s", 0.0)
    unit = _text(entry, "u", "") if "u" in entry else base.unit
    return name, unit, _value(entry, base, total), at, total


def _check_version(version: object, number: int, base: _Base) -> None:
    """All records have the version of the first, which has 10 where it names none."""
    if type(version) is not int or version not in _VERSIONS:
        raise PackRefused("version", f"record {number} has bver {shown(version)}")
    if number == 0:
        base.version = version
    elif version != base.version:
        raise PackRefused("version", f"record {number} has bver {version}, the pack began with {base.version}")


def _take_base(entry: dict[str, Any], base: _Base) -> None:
    if "bn" in entry:
        base.name = _text(entry, "bn", "")
    if "bt" in entry:
        base.time = _number(entry, "bt", 0.0)
    if "bu" in entry:
        base.unit = _text(entry, "bu", "")
    if "bv" in entry:
        base.value = _number(entry, "bv", 0.0)
    if "bs" in entry:
        base.sum = _number(entry, "bs", 0.0)
    for label in entry:
        if label.startswith("b") and label.endswith("_"):
            raise _Bad("not-senml", f"base label {shown(label)} must be understood and is not")


def _value(entry: dict[str, Any], base: _Base, total: float | None) -> Value:
    """The one value of a record. A base value alone is a value; a sum alone needs none."""
    given = [label for label in _VALUES if label in entry]
    if len(given) > 1:
        raise _Bad("not-senml", f"one record has {' and '.join(given)}")
    if given == ["v"] or (not given and base.value is not None):
        return (base.value or 0.0) + _number(entry, "v", 0.0)
    if given == ["vs"]:
        return _text(entry, "vs", "")
    if given == ["vb"]:
        if not isinstance(entry["vb"], bool):
            raise _Bad("not-senml", f"vb is {shown(entry['vb'])}, not true or false")
        return entry["vb"]
    if given == ["vd"]:
        return _octets(entry["vd"])
    if total is None:
        raise _Bad("not-senml", "a record without value or sum")
    return None


def _octets(data: object) -> bytes:
    """Octets as they are (CBOR), or from base64 with the URL alphabet and no padding (JSON)."""
    if isinstance(data, bytes):
        return data
    if isinstance(data, str) and _is_base64url(data) and len(data) % 4 != 1:
        return base64.urlsafe_b64decode(data + "=" * (-len(data) % 4))
    raise _Bad("not-senml", f"vd is not base64url: {shown(data)}")


def _text(entry: dict[str, Any], label: str, default: str) -> str:
    value = entry.get(label, default)
    if not isinstance(value, str):
        raise _Bad("not-senml", f"{label} is {shown(value)}, not text")
    return value


def _number(entry: dict[str, Any], label: str, default: float) -> float:
    value: Any = entry.get(label, default)
    kind = type(value)
    if kind not in _NUMBERS and kind is not Decimal:
        raise _Bad("not-senml", f"{label} is {shown(value)}, not a number")
    try:
        return float(value)
    except (OverflowError, ValueError):  # hundreds of digits; a signalling NaN
        raise _Bad("not-finite", f"{label} is {shown(value)}, not a double") from None
