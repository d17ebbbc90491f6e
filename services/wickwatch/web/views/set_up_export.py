"""The fleet file of a facility as its page shows it."""

from __future__ import annotations

from dataclasses import dataclass

from wickwatch.store.people import Visible

#: Lines that the page shows; the whole is for downloading.
SHOWN = 400


@dataclass(frozen=True)
class FleetFilePage:
    """A facility's fleet file: its beginning, and how many lines there are."""

    facility: Visible
    text: str
    lines: int
    more: bool


def page(facility: Visible, text: str) -> FleetFilePage:
    """The page of a file."""
    lines = text.splitlines()
    return FleetFilePage(facility, "\n".join(lines[:SHOWN]), len(lines), len(lines) > SHOWN)
