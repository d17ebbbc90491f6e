"""When a notice that was not taken is tried again, and when the person's next way is used too.

Plain data and a pure function. Not here: trying, or how long a notice is worth sending (`alarms.calls`).
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta


@dataclass(frozen=True)
class Retry:
    """Waits after the first, second, … failed try; the last one repeats. Chosen here.

    After `next_way_after` failed tries the call also goes over the person's next contact, because a broken server or a
    wrong address is then likelier than a hiccup.
    """

    waits: tuple[timedelta, ...] = tuple(timedelta(seconds=s) for s in (5, 15, 45, 120, 300, 600))
    next_way_after: int = 2

    def again_at(self, tries: int, now: datetime, expires_at: datetime) -> datetime | None:
        """When to try again after `tries` failed tries; `None` where that is past the notice's time."""
        at = now + self.waits[min(tries, len(self.waits)) - 1]
        return at if at < expires_at else None

    def next_way(self, tries: int, over: bool) -> bool:
        """Whether to use the next way now; `over` says that this one will not be tried again."""
        return tries == self.next_way_after or (over and tries < self.next_way_after)
