"""Parts of pages kept for a moment, since everybody who looks at the same is sent the same octets.

Not here: when a part is out of date; its key says what it was made from.
"""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable

from wickwatch.texts import spoken
from wickwatch.web.templates import Packed, pack

#: As many parts are kept; a part of a thousand rooms is some 100 kB compressed and a megabyte plain.
_MOST = 16


class Kept:
    """The parts asked for last, by key."""

    def __init__(self) -> None:
        self._parts: OrderedDict[Hashable, Packed] = OrderedDict()
        self._lock = threading.Lock()

    def get(self, key: Hashable, make: Callable[[], str]) -> Packed:
        """A part as its reader chose to read, made where it is not there; who wants the same meanwhile waits for it."""
        key = (spoken(), key)
        with self._lock:
            found = self._parts.pop(key, None) or pack(make())
            self._parts[key] = found
            while len(self._parts) > _MOST:
                self._parts.popitem(last=False)
            return found
