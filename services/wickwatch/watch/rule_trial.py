"""What a change of rules would have done to the last weeks: a backtest before and one after, in a process apart.

    python -m wickwatch.watch.rule_trial ID

It works out one order of `store.rule_trials` at every moment at which the live watch looked, tells how far it is, and
ends by itself once the order was ended or the process that started it is gone. Apart, because minutes of judging in the
web's own process would hold every page up.
Not here: what the page makes of it.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime
from uuid import UUID

from wickwatch import log
from wickwatch.alarms import Alarm
from wickwatch.errors import WickwatchError
from wickwatch.fleet import Container, Facility, Reservoir, Room, Rules, inherit
from wickwatch.fleet.declared import DeclaredFacility, DeclaredRoom
from wickwatch.fleet.editing import edit
from wickwatch.store import fleet as stored_fleet
from wickwatch.store import rule_trials as stored
from wickwatch.store.connect import Connection, connect
from wickwatch.watch.backtest import backtest, told
from wickwatch.watch.replay import Part, ruled

#: Between two words about how far it is (seconds of the machine's clock).
_TELL_S = 1.0

#: How much it stands back behind everything else on the machine (nice).
_NICE = 10


class _StoppedError(Exception):
    """Nobody wants it any longer."""


def work_out(
    conn: Connection, trial: stored.Trial, tell: Callable[[float], None]
) -> dict[str, list[dict[str, object]]]:
    """Alarms before and after the change, each with what it was `made_of`; `tell` gets the share that is done.

    Raises InputError for rules that can't be.
    """
    (present,) = stored_fleet.declared(conn, [trial.place.facility], None if trial.room is None else [trial.room])
    wanted = edit(present, trial.place, {"rules": dict(trial.rules) or None})
    channels = None if trial.room_id is None else stored.channels(conn, trial.room_id)
    found = {}
    for number, (name, declared) in enumerate((("before", present), ("after", wanted))):

        def seen(as_of: datetime, number: int = number) -> None:
            tell((number + (as_of - trial.start) / (trial.end - trial.start)) / 2)

        part = Part(under(declared, trial.room), channels)
        found[name] = backtest(conn, trial.facility_id, trial.start, trial.end, {}, part=part, seen=seen, shape=_kept)
    return found


def _kept(alarm: Alarm, place: Facility) -> dict[str, object]:
    """An alarm in the contract's shape, and what its message can be said again from in another language."""
    return told(alarm, place) | {"made_of": dict(alarm.made_of)}


def under(declared: DeclaredFacility, room: str | None) -> Callable[[Facility], Facility]:
    """What puts a place under the rules that are declared there, and makes one room of it alone where one is named."""
    whole = inherit(Rules(), declared.rules, "facility")
    rooms = {there.slug: _of_room(there, whole) for there in declared.rooms}

    def ruled_so(place: Facility) -> Facility:
        there = tuple(rooms[one.slug](one) for one in place.rooms if one.slug in rooms and room in (None, one.slug))
        return replace(place, rules=whole, rooms=there, gateways=place.gateways if room is None else ())

    return ruled_so


def _of_room(declared: DeclaredRoom, above: Rules) -> Callable[[Room], Room]:
    """What puts a room under the rules that are declared there."""
    rules = inherit(above, declared.rules, "room")
    tanks = {one.slug: inherit(rules, one.rules, one.slug) for one in declared.reservoirs}
    pots = {one.slug: inherit(rules, one.rules, one.slug) for one in declared.containers}

    def own(part: Reservoir | Container) -> Rules:
        return (tanks if isinstance(part, Reservoir) else pots).get(part.slug, rules)

    return lambda room: ruled(room, rules, own)


def run(database_url: str, trial_id: UUID, parent: int) -> int:
    """Work out one order and keep what came out; returns the process's exit code."""
    with (
        connect(database_url, "rule-trial") as conn,
        connect(database_url, "rule-trial-progress", autocommit=True) as telling,
    ):
        trial = stored.load(conn, trial_id)
        if trial is None:
            return 0
        last = 0.0

        def tell(share: float) -> None:
            nonlocal last
            now = datetime.now(UTC)
            if now.timestamp() - last < _TELL_S:
                return
            last = now.timestamp()
            if os.getppid() != parent or not stored.tell(telling, trial_id, share, now):
                raise _StoppedError

        try:
            result = work_out(conn, trial, tell)
        except _StoppedError:
            return 0
        except WickwatchError as error:
            stored.give_up(telling, trial_id, str(error), datetime.now(UTC))
            return 1
        stored.finish(telling, trial_id, result, datetime.now(UTC))
    counts = {name: len(alarms) for name, alarms in result.items()}
    log.event("rule_trial.done", trial=trial_id, room=trial.room or "all", **counts)
    return 0


def main(trial_id: str) -> int:
    """The process: the database's address is the first line of its input, so that no list of processes shows it."""
    parent = os.getppid()
    os.nice(_NICE)
    log.to_stream()
    return run(sys.stdin.readline().strip(), UUID(trial_id), parent)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1]))
