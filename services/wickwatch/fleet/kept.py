"""What is worked out from a facility, made at the first call and kept while that object lives.

A sweep every few seconds must not walk 20,000 containers each time. By the object and not by its value: to compare two
facilities is to walk both. Not here: what is worked out.
"""

from __future__ import annotations

import weakref
from collections.abc import Callable
from functools import wraps
from typing import TypeVar

from wickwatch.fleet.model import Facility

T = TypeVar("T")


def kept(make: Callable[[Facility], T]) -> Callable[[Facility], T]:
    """The same function, called once for each facility object."""
    made: dict[int, tuple[weakref.ref[Facility], T]] = {}

    @wraps(make)
    def get(place: Facility) -> T:
        key = id(place)
        found = made.get(key)
        if found is not None and found[0]() is place:
            return found[1]
        fresh = make(place)
        made[key] = (weakref.ref(place, lambda _gone: made.pop(key, None)), fresh)
        return fresh

    return get
