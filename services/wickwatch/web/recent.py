"""Answers remembered for a while by id, where telling one anew costs more than a page may take.

Not here: what the answers are of (`run_out`, `in_band`).
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Mapping, Sequence
from datetime import datetime, timedelta
from typing import Generic, TypeVar
from uuid import UUID

_Answer = TypeVar("_Answer")


class Recent(Generic[_Answer]):
    """Answers by id, told again once they are `life` old; past `most` of them the oldest are forgotten.

    One thread tells at a time: those who want the same wait for it, and find it told.
    """

    def __init__(self, life: timedelta, most: int) -> None:
        self._life = life
        self._most = most
        self._kept: dict[UUID, tuple[datetime, _Answer | None]] = {}
        self._lock = threading.Lock()

    def of(
        self, ids: Sequence[UUID], now: datetime, tell: Callable[[frozenset[UUID]], Mapping[UUID, _Answer]]
    ) -> dict[UUID, _Answer]:
        """Answers by id; `tell` is given the ids that are due. That there is none is remembered as well."""
        with self._lock:
            due = frozenset(id for id in ids if not self._fresh(id, now))
            told = tell(due) if due else {}
            for id in due:
                self._kept.pop(id, None)
                self._kept[id] = (now, told.get(id))
            found = {id: answer for id in ids if (answer := self._kept[id][1]) is not None}
            while len(self._kept) > self._most:
                self._kept.pop(next(iter(self._kept)))
        return found

    def _fresh(self, id: UUID, now: datetime) -> bool:
        kept = self._kept.get(id)
        return kept is not None and timedelta() <= now - kept[0] < self._life
