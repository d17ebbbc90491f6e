"""What a reader chose, and to whom is spoken now.

Who is spoken to is a variable of the context (PEP 567): threads and tasks that serve a request have their own copy of
it. A request's reader is known only once it is under way, and in another thread; so the context holds a place, which
`speak` fills for all copies at once.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from typing import Literal

TensionUnit = Literal["mbar", "kPa", "cbar"]
VolumeUnit = Literal["l", "gal"]
Clock = Literal["24h", "12h"]

TENSION_UNITS: tuple[TensionUnit, ...] = ("mbar", "kPa", "cbar")
VOLUME_UNITS: tuple[VolumeUnit, ...] = ("l", "gal")
CLOCKS: tuple[Clock, ...] = ("24h", "12h")


@dataclass(frozen=True)
class Choices:
    """Language (the name of a catalogue, or `en`), units, clock; gallons are US gallons."""

    language: str = "en"
    tension_unit: TensionUnit = "mbar"
    volume_unit: VolumeUnit = "l"
    clock: Clock = "24h"


#: What programs read.
PLAIN = Choices()


@dataclass
class _Place:
    choices: Choices


_PLACE: ContextVar[_Place | None] = ContextVar("reader", default=None)


@contextmanager
def speaking(choices: Choices) -> Iterator[None]:
    """Speak to somebody with these choices inside the block."""
    token = _PLACE.set(_Place(choices))
    try:
        yield
    finally:
        _PLACE.reset(token)


def speak(choices: Choices) -> None:
    """From here on speak to somebody else in the innermost block of `speaking`, in all threads that serve it."""
    place = _PLACE.get()
    if place is None:
        raise LookupError("nobody is spoken to here")
    place.choices = choices


def spoken() -> Choices:
    """The choices of whoever is spoken to."""
    place = _PLACE.get()
    return PLAIN if place is None else place.choices
