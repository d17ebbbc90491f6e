"""What one sweep has before it: the frame, the place, and what every kind asks of them.

Each view is made when a kind first asks for it and then shared. Not here: any kind's judgement.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import TypeVar, cast

import numpy as np
from numpy.typing import NDArray

from wickwatch.detect.clock import same_hours
from wickwatch.detect.draws import Draws, UsualDraw, draws, usual_draw
from wickwatch.detect.frame import Frame
from wickwatch.detect.layout import Layout, layout
from wickwatch.detect.levels import Levels, levels
from wickwatch.detect.settling import Settling, settling
from wickwatch.detect.signals import Signals, signals
from wickwatch.fleet import Container, Facility, Reservoir, Subject, Work

T = TypeVar("T")


@dataclass(frozen=True)
class _Hour:
    """What whole hours tell of a place, by name; `history_from` because it says from when a container's count."""

    place: Layout
    history_from: NDArray[np.datetime64]
    told: dict[str, object] = field(default_factory=dict)


@dataclass
class _Figures:
    """Figures of subjects, made as they are asked for."""

    made: NDArray[np.bool_]
    values: NDArray[np.float64] | None = None

    def of(
        self, which: NDArray[np.int64], make: Callable[[NDArray[np.int64]], NDArray[np.float64]]
    ) -> NDArray[np.float64]:
        missing = which[~self.made[which]]
        if len(missing) or self.values is None:
            found = make(missing)
            if self.values is None:
                self.values = np.full((len(self.made), found.shape[1]), np.nan)
            self.values[missing] = found
            self.made[missing] = True
        return self.values[which]


@dataclass(frozen=True)
class Sight:
    """A frame and the facility it was taken in."""

    frame: Frame
    facility: Facility
    work: Sequence[Work]
    _kept: dict[str, object] = field(default_factory=dict, compare=False, repr=False)

    @property
    def as_of(self) -> np.datetime64:
        """Moment of the sweep."""
        return self.frame.as_of

    def once(self, name: str, make: Callable[[], T]) -> T:
        """What `make` gives, made at the first call with this name: for what two kinds share."""
        return _once(self._kept, name, make)

    def once_an_hour(self, name: str, make: Callable[[], T]) -> T:
        """What `make` gives by whole hours and the place alone: made once for all frames with the same hourly grid."""
        return _once(self._hour.told, name, make)

    def by_hour(
        self, name: str, count: int, which: NDArray[np.int64], make: Callable[[NDArray[np.int64]], NDArray[np.float64]]
    ) -> NDArray[np.float64]:
        """What `make` gives for subjects `which` (N,) of `count`, shape (N, k): what whole hours and the place tell.

        Made for those only that were not asked for yet since the hourly grid changed; `make` takes some of `which`.
        """
        return self.once_an_hour(name, lambda: _Figures(np.zeros(count, dtype=np.bool_))).of(which, make)

    @cached_property
    def _hour(self) -> _Hour:
        kept, history_from = self.frame.coarse.kept, self.settling.history_from
        hour = cast(_Hour | None, kept.get("hour"))
        if (
            hour is None
            or hour.place is not self.place
            or not np.array_equal(hour.history_from, history_from, equal_nan=True)
        ):
            kept["hour"] = hour = _Hour(self.place, history_from)
        return hour

    @property
    def same_hours(self) -> NDArray[np.int64]:
        """Columns of the hourly grid by hour of the facility's day, as `clock.same_hours` has them."""
        return self.once_an_hour("same hours", lambda: same_hours(self.facility.zone, self.frame.coarse.times))

    @cached_property
    def place(self) -> Layout:
        """The facility as arrays."""
        return layout(self.facility)

    @cached_property
    def tension(self) -> Signals:
        """Newest readings of the containers' own probes."""
        return signals(self.frame, self.place.tension, self.place.container_rules)

    @cached_property
    def twin(self) -> Signals:
        """Newest readings of the second probes."""
        return signals(self.frame, self.place.twin, self.place.container_rules)

    @cached_property
    def level(self) -> Signals:
        """Newest readings of the level sensors."""
        return signals(self.frame, self.place.level, self.place.reservoir_rules)

    @cached_property
    def levels(self) -> Levels:
        """Level in every reservoir now."""
        return levels(self.frame, self.place, self.level)

    @cached_property
    def draws(self) -> Draws:
        """How much leaves every reservoir, against what is usual."""
        return draws(self.place, self.usual_draw, self.levels)

    @cached_property
    def usual_draw(self) -> UsualDraw:
        """What usually leaves every reservoir, hour by hour."""
        return self.once_an_hour(
            "usual draw", lambda: usual_draw(self.frame, self.facility, self.place, self.level, self.tension)
        )

    @cached_property
    def settling(self) -> Settling:
        """What was worked on lately."""
        return settling(self.place, self.work, self.as_of)


def _once(kept: dict[str, object], name: str, make: Callable[[], T]) -> T:
    if name not in kept:
        kept[name] = make()
    return cast(T, kept[name])


def subject(thing: Container | Reservoir) -> Subject:
    """What a finding about this container or reservoir is about."""
    return Subject("container" if isinstance(thing, Container) else "reservoir", thing.id, thing.name)
