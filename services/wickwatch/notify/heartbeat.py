"""The heartbeat that leaves the machine: fetched while every part is alive, so that its silence can be noticed outside.

Not here: what becomes of a part that stopped while this one lives; that is an alarm (`watch`).
"""

from __future__ import annotations

from collections.abc import Sequence

import httpx

from wickwatch import log
from wickwatch.store.jobs import NEEDED, PARTS, Beat

EVERY_S = 60.0
TIMEOUT_S = 10.0


def silent_parts(beats: Sequence[Beat]) -> list[str]:
    """Parts of which no copy is alive and healthy: of all that are needed, and of those heard within a day."""
    alive = {beat.part for beat in beats if beat.alive}
    heard = {beat.part for beat in beats}
    return [part for part in PARTS if part not in alive and (part in NEEDED or part in heard)]


def is_first(beats: Sequence[Beat], instance: str) -> bool:
    """Whether this copy of `notify` is the one that fetches: the first by name among those alive."""
    alive = sorted(beat.instance for beat in beats if beat.part == "notify" and beat.alive)
    return bool(alive) and alive[0] == instance


def fetch(url: str) -> None:
    """Fetch the address once; a failure is logged, since whoever watches it outside will notice."""
    try:
        answer = httpx.get(url, timeout=TIMEOUT_S, follow_redirects=True, headers={"user-agent": "wickwatch"})
        answer.raise_for_status()
    except httpx.HTTPError as error:
        log.warning("heartbeat.failed", why=type(error).__name__)
