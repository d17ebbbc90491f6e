"""Why a pack, or a record of one, can't be taken: the codes that quarantine, metrics and answers share.

Not here: where each is found; see `senml` for the format and `accept` for what Wickwatch asks beyond it.
"""

from __future__ import annotations

from typing import Literal, NamedTuple

from wickwatch.texts import N_, Words

Reason = Literal[
    "topic",
    "unknown-facility",
    "too-large",
    "not-json",
    "not-cbor",
    "not-senml",
    "version",
    "name",
    "quantity",
    "unit",
    "no-full-scale",
    "not-finite",
    "out-of-range",
    "future",
    "too-old",
    "status",
    "internal",
]

#: Each reason with what is accepted instead.
REASONS = Words(
    {
        "topic": N_("the topic is not wickwatch/1/{facility}/{gateway}/senml, senml-cbor or status"),
        "unknown-facility": N_("no facility in use has that slug"),
        "too-large": N_("a pack is at most 1 MiB"),
        "not-json": N_("the payload is not JSON (RFC 8259)"),
        "not-cbor": N_("the payload is not one item of CBOR (RFC 8949)"),
        "not-senml": N_("the payload or a record is not SenML (RFC 8428)"),
        "version": N_("the pack's version is not 10 or lower, or 26, or differs between its records"),
        "name": N_("a name is DEVICE:QUANTITY of the characters A-Z a-z 0-9 - : . / _, the device at most 255 long"),
        "quantity": N_("the quantity is not one that is kept"),
        "unit": N_("the unit is not one that its quantity, or this channel, is kept in"),
        "no-full-scale": N_("a level as a ratio needs the channel's full scale, which is set on its page"),
        "not-finite": N_("the value is not a finite number"),
        "out-of-range": N_("the value is outside what its quantity can physically be"),
        "future": N_("the time is more than five minutes ahead"),
        "too-old": N_("the time is before what the facility keeps"),
        "status": N_("a gateway's status is online or offline"),
        "internal": N_("this program failed on it; the log has the error"),
    }
)


class Fault(NamedTuple):
    """One record refused: its place in the pack from 0, why, and what of it."""

    number: int
    reason: Reason
    detail: str


class PackRefused(Exception):  # noqa: N818 - what it says, not that it is an error
    """A whole payload that can't be taken. Never shown to people: it becomes a row of the quarantine."""

    def __init__(self, reason: Reason, detail: str) -> None:
        super().__init__(f"{reason}: {detail}")
        self.reason = reason
        self.detail = detail


def shown(value: object, limit: int = 80) -> str:
    """A value as it may stand in a detail: short, on one line, whatever it holds."""
    if isinstance(value, str | bytes):
        value = value[:limit]
    text = ascii(value) if isinstance(value, str | bytes | int | float | bool | None) else type(value).__name__
    return text if len(text) <= limit + 20 else text[: limit + 17] + "..."
