"""Finding a scenario by name or path and reading it with what the caller wants otherwise.

Not here: the file's grammar (`scenario_file`).
"""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

from wickwatch.errors import InputError
from wickwatch_simulator.scenario import Scenario
from wickwatch_simulator.scenario_file import read


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
