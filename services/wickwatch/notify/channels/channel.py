"""What every way of sending promises."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Protocol

from wickwatch.store.notices import Claimed


@dataclass(frozen=True)
class Result:
    """What one try led to; `detail` is shown to people.

    `final` says that trying again can't help, `gone` that the contact itself is no more.
    """

    ok: bool
    detail: str
    final: bool = False
    gone: bool = False


class Channel(Protocol):
    """One way to reach people.

    `send` may take tens of seconds, is called by several threads at once, keeps nothing between calls, and gives the
    receiver the notice's key, so that a duplicate can be told.
    """

    def send(self, notice: Claimed, at: datetime) -> Result:
        """Try once to hand the notice over."""
        ...
