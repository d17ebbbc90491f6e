"""The two forms a SenML pack arrives in, JSON and CBOR, read into records with the same labels (RFC 8428, 5 and 6).

Not here: what the records mean (`senml`).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Literal

import cbor2
import orjson

from wickwatch.ingest.reasons import PackRefused, shown

Form = Literal["json", "cbor"]

#: Integer labels of CBOR (RFC 8428, table 4).
CBOR_LABELS: Mapping[int, str] = {
    -1: "bver", -2: "bn", -3: "bt", -4: "bu", -5: "bv", -6: "bs",
    0: "n", 1: "u", 2: "v", 3: "vs", 4: "vb", 5: "s", 6: "t", 7: "ut", 8: "vd",
}  # fmt: skip

_KNOWN = frozenset(CBOR_LABELS.values())
_END = b"\x1b\xd1\x5c\x0e\x27\x91\xb3\x64\xf5"  # an integer that no pack ends with by chance
_END_VALUE = int.from_bytes(_END[1:], "big")


def decode(payload: bytes, form: Form) -> Sequence[object]:
    """The pack's records as dictionaries with JSON's labels, not resolved. Raises only PackRefused."""
    entries = _from_json(payload) if form == "json" else _from_cbor(payload)
    if not isinstance(entries, list | tuple):
        raise PackRefused("not-senml", f"a pack is an array of records, this is {shown(entries)}")
    return entries if form == "json" else [_labelled(entry) for entry in entries]


def _from_json(payload: bytes) -> object:
    try:
        return orjson.loads(payload)
    except ValueError as error:
        raise PackRefused("not-json", shown(str(error))) from None


def _from_cbor(payload: bytes) -> object:
    # Decoding an array of the payload and one further item finds octets left over after the payload's first.
    try:
        both = cbor2.loads(b"\x82" + payload + _END)
    except Exception as error:  # the decoder runs code of many types for the tags that a payload names
        raise PackRefused("not-cbor", shown(f"{type(error).__name__}: {error}")) from None
    if both[1] != _END_VALUE:
        raise PackRefused("not-cbor", "more than one item")
    return both[0]


def _labelled(entry: object) -> object:
    """A CBOR record with JSON's labels. Text that looks like one of them is not it, so it is an unknown label."""
    if not isinstance(entry, Mapping):
        return entry
    fields: dict[str, Any] = {}
    for label, value in entry.items():
        if type(label) is int and label in CBOR_LABELS:
            fields[CBOR_LABELS[label]] = value
        elif type(label) is str and label not in _KNOWN:
            fields[label] = value
    return fields
