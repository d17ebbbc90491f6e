"""The live sweep's judgement and alarm rules run over stored history, as of each moment they would have run.

Used by a backtest, which keeps nothing, and by the watch itself when it missed moments. Changes nothing in the
database. Not here: how the alarms are printed (`cli.backtest`), nor what is kept of them (`watch.sweep`).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from uuid import UUID

from wickwatch import alarms, detect
from wickwatch.alarms import Book, Changes, Priority
from wickwatch.fleet import Container, Facility, Reservoir, Room, Rules, inherit
from wickwatch.store import fleet as stored_fleet
from wickwatch.store import service, work
from wickwatch.store.connect import Connection
from wickwatch.store.fleet_history import changes_between
from wickwatch.watch.history import History
from wickwatch.watch.schedule import SWEEP, moment

#: Work entries older than this explain nothing any more.
WORK_DAYS = 8


@dataclass(frozen=True)
class Part:
    """A part of a facility looked at alone: what of the place, under which rules, and the ids of its channels, None for
    all of the facility's.
    """

    of: Callable[[Facility], Facility]
    channels: Sequence[int] | None


def replay(
    conn: Connection,
    book: Book,
    start: datetime,
    end: datetime,
    every: timedelta = SWEEP,
    rules: Mapping[str, float] | None = None,
    *,
    part: Part | None = None,
    rolled_up: bool = False,
    waiting: frozenset[Priority] = frozenset(),
    answer: Callable[[Book, datetime], Changes] | None = None,
) -> Iterator[tuple[Facility, Changes]]:
    """What each sweep in (start, end] would have changed in the book of a facility; yields every sweep, in order.

    The place is as it was at each moment: assignments are followed as they began and ended. `rules` stand in place of
    those given anywhere, `part` narrows all to a part of the place. `rolled_up` says that the rollups hold all of the
    span. `waiting` are priorities whose calls are made later. `answer` is what people would do after each step. Raises
    InputError for a rule that is none.
    """
    facility_id, rules = book.facility_id, rules or {}
    channels = None if part is None else part.channels
    history = History(conn, facility_id, start, rolled_up=rolled_up, channels=channels)
    done = work.recent(conn, facility_id, start - timedelta(days=WORK_DAYS))
    periods = service.around(conn, facility_id, start, end)
    turns = iter(changes_between(conn, facility_id, start, end))
    turn = next(turns, None)
    place = _seen(conn, facility_id, start, rules, part)
    previous, as_of = start, moment_after(start, every)
    while as_of <= end:
        if turn is not None and turn <= as_of:
            while turn is not None and turn <= as_of:
                turn = next(turns, None)
            place = _seen(conn, facility_id, as_of, rules, part)
        recent = [entry for entry in done if as_of - timedelta(days=WORK_DAYS) <= entry.at <= as_of]
        judgement = detect.sweep(history.frame(as_of), place, recent, detect.due(previous, as_of))
        changes = alarms.step(book, judgement, place, recent, periods, waiting)
        book = alarms.after(book, changes)
        yield place, changes
        if answer is not None:
            answers = answer(book, as_of)
            book = alarms.after(book, answers)
            yield place, answers
        previous, as_of = as_of, as_of + every


def _seen(
    conn: Connection, facility_id: UUID, as_of: datetime, rules: Mapping[str, float], part: Part | None
) -> Facility:
    """The place as of a moment, as it is to be judged."""
    place = with_rules(stored_fleet.load_facility(conn, facility_id, as_of), rules)
    return place if part is None else part.of(place)


def moment_after(start: datetime, every: timedelta) -> datetime:
    """The first moment of a sweep after `start`."""
    return moment(start, every, timedelta()) + every


def with_rules(place: Facility, given: Mapping[str, float]) -> Facility:
    """The place with some rules set everywhere, whatever stands where."""
    if not given:
        return place

    def own(one: Facility | Room | Reservoir | Container) -> Rules:
        return inherit(one.rules, given, one.name)

    return replace(place, rules=own(place), rooms=tuple(ruled(room, own(room), own) for room in place.rooms))


def ruled(room: Room, rules: Rules, own: Callable[[Reservoir | Container], Rules]) -> Room:
    """The room under other rules, and each part of it that has rules under its `own`."""
    return replace(
        room,
        rules=rules,
        reservoirs=tuple(replace(each, rules=own(each)) for each in room.reservoirs),
        containers=tuple(replace(each, rules=own(each)) for each in room.containers),
    )
