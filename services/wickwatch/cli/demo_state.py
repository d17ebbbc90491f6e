"""What a demo is of, kept so that a second start goes on where the first was.

Not here: the fleet's own state, which the simulator keeps.
"""

from __future__ import annotations

import json
import secrets
from dataclasses import asdict, dataclass, replace
from datetime import UTC, datetime
from pathlib import Path

from wickwatch.errors import InputError

FILE = "demo.json"


@dataclass(frozen=True)
class DemoState:
    """The options it was begun with, when its history ends, its sign-in and key, and whether its history is loaded."""

    rooms: int
    days: int
    seed: int
    faults: bool
    history_end: str
    password: str
    secret_key: str
    loaded: bool = False

    @property
    def end(self) -> datetime:
        """When history ends and live readings begin."""
        return datetime.fromisoformat(self.history_end)


def begin_or_resume(home: Path, rooms: int, days: int, seed: int, faults: bool, now: datetime) -> DemoState:
    """The demo in this folder, begun with these options now or before; raises InputError where the options differ."""
    path = home / FILE
    if not path.exists():
        end = now.astimezone(UTC).replace(minute=now.minute // 5 * 5, second=0, microsecond=0)
        state = DemoState(
            rooms, days, seed, faults, end.isoformat(), secrets.token_urlsafe(9), secrets.token_urlsafe(32)
        )
        write(home, state)
        return state
    state = read(home)
    if (state.rooms, state.days, state.seed, state.faults) != (rooms, days, seed, faults):
        was = f"--rooms {state.rooms} --days {state.days} --seed {state.seed}{'' if state.faults else ' --no-faults'}"
        given = f"--rooms {rooms} --days {days} --seed {seed}{'' if faults else ' --no-faults'}"
        raise InputError("demo", given, f"{was}, as the one in {home} was begun; remove that folder to begin anew")
    return state


def read(home: Path) -> DemoState:
    """The demo begun in this folder."""
    return DemoState(**json.loads((home / FILE).read_text()))


def loaded(home: Path, state: DemoState) -> None:
    """Note that the history is in the database."""
    write(home, replace(state, loaded=True))


def write(home: Path, state: DemoState) -> None:
    """Keep the state; readable by its owner only, since it holds a password."""
    new = home / f"{FILE}.new"
    new.touch(mode=0o600)
    new.write_text(json.dumps(asdict(state), indent=2))
    new.replace(home / FILE)
