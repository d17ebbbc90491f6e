"""Containers of a room ranked by what to re-set: which emitters stand off, which probes to look at, which are fine.

Ranked by the middle of the last day and not by the newest reading, since a pulse of watering is no reason to touch an
emitter. Not here: how the day is read (`web.days`), nor whether a container is settled (`settled`).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Literal
from uuid import UUID

import numpy as np

from wickwatch.texts import _, general, tension_unit
from wickwatch.web.views import words
from wickwatch.web.views.card import percent
from wickwatch.web.views.days import Day
from wickwatch.web.views.settled import SettledLine
from wickwatch.web.views.state import ContainerState, RoomState
from wickwatch.web.views.times import ago

#: From this share of the way to a limit on an emitter is worth a visit; the limit itself is 1. Chosen here.
_VISIT = 0.6

#: What is to be done, the most pressing first.
Todo = Literal["re-set", "probe", "cause", "visit", "settling", "fine", "out"]
_ORDER: tuple[Todo, ...] = ("re-set", "probe", "cause", "visit", "settling", "fine", "out")


@dataclass(frozen=True)
class ContainerLine:
    """One container in the table; `day` is the middle of its last day and `off` how far that is from its set point."""

    id: UUID
    name: str
    place: str
    place_words: str
    tension: str
    day: str
    off: str
    in_band: str
    limits: str
    stands_for: int
    read: str
    todo: Todo
    todo_words: str
    settled: str
    order: tuple[int, float]


def ranked(
    state: RoomState, days: Mapping[UUID, Day], settled: Mapping[UUID, SettledLine], now: datetime
) -> tuple[ContainerLine, ...]:
    """Containers by what to do about them, then by how far they are off in their own band."""
    lines = [_line(each, state, days.get(each.row.id), settled.get(each.row.id), now) for each in state.containers]
    return tuple(sorted(lines, key=lambda line: line.order))


def _line(
    container: ContainerState, state: RoomState, day: Day | None, settled: SettledLine | None, now: datetime
) -> ContainerLine:
    row, rules, unit = container.row, container.rules, tension_unit()
    middle = day.median_mbar if day is not None and np.isfinite(day.median_mbar) else row.tension_mbar
    off = 0.0 if middle is None else middle - rules.set_point_mbar
    side = rules.dry_limit_mbar - rules.set_point_mbar if off > 0 else rules.set_point_mbar - rules.wet_limit_mbar
    todo, said = _todo(container, state, settled, off, abs(off / side))
    return ContainerLine(
        id=row.id,
        name=row.name,
        place="out" if container.out else container.place,
        place_words=_("out of service") if container.out else words.PLACES[container.place],
        tension="" if row.tension_mbar is None else unit.number(row.tension_mbar),
        day="" if middle is None else unit.number(middle),
        off="" if middle is None else unit.signed(off),
        in_band="" if day is None or not np.isfinite(day.in_band) else percent(day.in_band),
        limits="–".join(
            general(unit.shown(each)) for each in (rules.wet_limit_mbar, rules.set_point_mbar, rules.dry_limit_mbar)
        ),
        stands_for=row.stands_for,
        read=ago(row.read_at, now) if row.read_at else _("never"),
        todo=todo,
        todo_words=said,
        settled=_settled(settled),
        order=(_ORDER.index(todo), -abs(off / side)),
    )


def _todo(
    container: ContainerState, state: RoomState, settled: SettledLine | None, off: float, share: float
) -> tuple[Todo, str]:
    if container.out:
        return "out", _("out of service")
    if container.place in ("silent", "unread"):
        return "probe", _("look at its probe") if container.place == "silent" else _("no reading yet")
    mine = [alarm for alarm in state.alarms if alarm.subject_id == container.row.id]
    if any(alarm.kind == "probe-fault" for alarm in mine):
        return "probe", _("look at its probe")
    if settled is not None and settled.settling:
        return "settling", _("leave it: %(why)s", why=settled.settling)
    if any(alarm.state == "suppressed-by-design" for alarm in mine) or (off > 0 and _without_water(container, state)):
        return "cause", _("mend the cause first")
    if share >= 1.0 or any(alarm.kind in ("drying-drift", "sudden-wetting") for alarm in mine):
        return "re-set", _("re-set wetter") if off > 0 else _("re-set drier")
    if share >= _VISIT:
        return "visit", (_("re-set wetter when you are there") if off > 0 else _("re-set drier when you are there"))
    if container.place in ("dry", "wet"):
        return "visit", _("look again: %(place)s now, not over the day", place=words.PLACES[container.place])
    return "fine", _("leave it")


def _without_water(container: ContainerState, state: RoomState) -> bool:
    """Whether an open alarm says that nothing flows to it: its reservoir is empty or its line is interrupted."""
    line = next((each for each in state.lines if each.id == container.row.line_id), None)
    above = {container.row.line_id, line.reservoir_id if line else None} - {None}
    return any(
        alarm.kind in ("reservoir-empty", "supply-interrupted") and alarm.subject_id in above for alarm in state.alarms
    )


def _settled(line: SettledLine | None) -> str:
    """Whether it is at its set point and quiet; why not is told only after work, since any other pot may move."""
    if line is None:
        return ""
    return _("settled") if line.ready else line.why if line.settling else ""
