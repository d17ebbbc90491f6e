"""A scenario: a fleet, its planned events, a beginning and a seed; all that a run depends on.

Here: the frozen data and `load_scenario`. Not here: the file's grammar (`scenario_file`), how rooms are made from
templates (`build`), or where random events fall (`random_events`).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path

from wickwatch.errors import InputError
from wickwatch_simulator.catalogue import EVENTS, EventKind
from wickwatch_simulator.plan import Facility, Room

#: Days before a room's first random event: watchers need a healthy stretch to learn from.
QUIET_DAYS = 4.0


@dataclass(frozen=True)
class Event:
    """One planned event; `end` is `None` while nobody has put it right.

    `subject` is the slug of a container, line, reservoir, gateway or room. Times are aware UTC.
    """

    event: str
    facility: str
    room: str
    subject: str
    begin: datetime
    end: datetime | None
    values: Mapping[str, float] = field(default_factory=dict)

    @property
    def kind(self) -> EventKind:
        return EVENTS[self.event]


@dataclass(frozen=True)
class Scenario:
    """What is simulated. History runs from `start` for `days`; `step_s` is the longest step of integration."""

    name: str
    seed: int
    start: datetime
    days: float
    facilities: tuple[Facility, ...]
    events: tuple[Event, ...]
    step_s: int = 60

    @property
    def end(self) -> datetime:
        """Where history ends and live readings begin."""
        return self.start + timedelta(days=self.days)

    @property
    def rooms(self) -> tuple[Room, ...]:
        return tuple(room for facility in self.facilities for room in facility.rooms)


def load_scenario(
    source: str | Path,
    rooms: int | None = None,
    days: float | None = None,
    seed: int | None = None,
    start: datetime | None = None,
    faults: bool = True,
) -> Scenario:
    """Read a scenario by file path or by the name of one that comes with the simulator.

    `rooms`, `days`, `seed`, `start` override the file's. Events in rooms that do not exist, or before the start, are
    left out. `faults=False` leaves out every event. Raises InputError naming file, key, value and what is accepted.
    """
    from wickwatch_simulator.scenario_file import read

    path = find(source)
    if rooms is not None and rooms < 1:
        raise InputError("rooms", rooms, "1 or more")
    if days is not None and not 0 < days <= 3660:
        raise InputError("days", days, "more than 0, at most 3660")
    if start is not None:
        start = _whole_minute(start)
    return read(path, rooms, days, seed, start, faults)


def names() -> tuple[str, ...]:
    """Names of the scenarios that come with the simulator."""
    return tuple(sorted(path.stem for path in _folder().glob("*.toml")))


def find(source: str | Path) -> Path:
    """The file a path or name means; raises InputError listing the names there are."""
    path = Path(source)
    if path.suffix == ".toml":
        if path.is_file():
            return path
        raise InputError("scenario", str(source), "a TOML file that exists, or one of " + ", ".join(names()))
    inside = _folder() / f"{source}.toml"
    if "/" not in str(source) and inside.is_file():
        return inside
    raise InputError("scenario", str(source), "a path ending in .toml, or one of " + ", ".join(names()))


def _folder() -> Path:
    """Where scenarios lie: inside an installed package, or beside it in the source tree."""
    package = Path(__file__).resolve().parent
    installed = package / "scenarios"
    return installed if installed.is_dir() else package.parent / "scenarios"


def _whole_minute(at: datetime) -> datetime:
    if at.tzinfo is None:
        raise InputError("start", at.isoformat(), "a time with its zone, such as 2026-03-02T00:00:00Z")
    return at.astimezone(UTC).replace(second=0, microsecond=0)
