"""The scenario file's grammar: TOML with `[[facility]]`, `[[template]]`, `[[event]]` and `[random]`.

    name = "…"   seed = 1   start = 2026-03-02T00:00:00Z   days = 21   rooms = 12
    [[facility]]  slug, name, zone, share (of rooms), rooms_per_gateway, rules = {…}, gateway = {drop_share = 0.001, …}
    [[template]]  see `template`; rooms take them in turn
    [[event]]     event, room (number from 1), container | line | reservoir (number from 1 within the room; default 1),
                  one of day (after start), days_before_end, minutes_after_end; hours (left out: nobody puts it right);
                  the event's own sizes
    [random]      faults_per_room_month, harmless_per_room_month, only = […]

Not here: making rooms (`build`) and drawing random events (`random_events`).
"""

from __future__ import annotations

import re
import tomllib
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from wickwatch.errors import InputError
from wickwatch_simulator import build
from wickwatch_simulator.catalogue import EVENTS
from wickwatch_simulator.plan import Facility, Gateway, Room
from wickwatch_simulator.random_events import draw
from wickwatch_simulator.read_toml import Table
from wickwatch_simulator.scenario import Event, Scenario
from wickwatch_simulator.template import template

_SLUG = re.compile(r"[a-z0-9][a-z0-9-]{0,62}")


def read(
    path: Path, rooms: int | None, days: float | None, seed: int | None, start: datetime | None, faults: bool
) -> Scenario:
    """Read one scenario file; arguments other than `None` override it."""
    try:
        parsed = tomllib.loads(path.read_text(encoding="utf-8"))
    except (OSError, UnicodeDecodeError) as error:
        raise InputError("scenario file", str(path), f"a file that can be read ({error})") from error
    except tomllib.TOMLDecodeError as error:
        raise InputError("scenario file", str(path), f"TOML ({error})") from error
    top = Table(path.name, parsed)
    name = top.text("name", path.stem)
    count, length, number = (
        top.whole("rooms", 1, 100_000),
        top.number("days", 0.01, 3660),
        top.whole("seed", 0, 2**31, 1),
    )
    begin = top.moment("start")
    count, length, number, begin = (
        rooms or count,
        days or length,
        number if seed is None else seed,
        start or begin,
    )
    templates = [template(f"{path.name}: template {i}", t) for i, t in enumerate(top.tables("template"), 1)]
    if not templates:
        raise InputError(f"{path.name}: template", "", "at least one [[template]]")
    facilities = _facilities(path.name, top.tables("facility"), templates, number, count)
    events = [(f"{path.name}: event {i}", e) for i, e in enumerate(top.tables("event"), 1)]
    chance = top.table("random")
    step = top.whole("step_s", 1, 600, 60)
    scenario = Scenario(name, number, begin, length, facilities, (), step)
    planned = [event for where, e in events if (event := _event(where, e, scenario))]
    planned += draw(scenario, chance)
    chance.done()
    top.done()
    kept = tuple(
        sorted((e for e in planned if e.begin >= begin), key=lambda e: (e.begin, e.facility, e.room, e.subject))
    )
    return replace(scenario, events=kept if faults else ())


def _facilities(where: str, given: list[Any], templates: list[Any], seed: int, count: int) -> tuple[Facility, ...]:
    if not given:
        raise InputError(f"{where}: facility", "", "at least one [[facility]]")
    tables = [Table(f"{where}: facility {i}", f) for i, f in enumerate(given, 1)]
    shares = [t.number("share", 0.01, 1000, 1.0) for t in tables]
    made: list[Facility] = []
    done, first = 0.0, 0
    for at, table in enumerate(tables):
        done += shares[at]
        # Cumulative shares, so that every room lands somewhere whatever the rounding; each facility has one at least.
        last = max(round(count * done / sum(shares)), first + (1 if count > first else 0))
        last = min(last, count)
        made.append(_facility(table, templates, seed, first, last))
        first = last
    if len({f.slug for f in made}) < len(made):
        raise InputError(f"{where}: facility slugs", ", ".join(f.slug for f in made), "slugs that differ")
    return tuple(f for f in made if f.rooms)


def _facility(table: Table, templates: list[Any], seed: int, first: int, last: int) -> Facility:
    slug, zone = table.text("slug"), table.text("zone")
    if not _SLUG.fullmatch(slug):
        raise InputError(f"{table.where}: slug", slug, "lower case letters, digits and hyphens")
    try:
        ZoneInfo(zone)
    except (KeyError, ValueError, OSError) as error:
        raise InputError(f"{table.where}: zone", zone, "a time zone such as Europe/Oslo") from error
    per_gateway = table.whole("rooms_per_gateway", 1, 1000, 4)
    quirks = table.numbers("gateway")
    known = ("drop_share", "repeat_share", "reorder_share", "batch_s", "clock_s")
    for key in quirks:
        if key not in known:
            raise InputError(f"{table.where}: gateway: {key}", quirks[key], "one of " + ", ".join(known))
    gateways = tuple(
        Gateway(
            f"gw-{n + 1:02d}",
            quirks.get("drop_share", 0.0),
            quirks.get("repeat_share", 0.0),
            quirks.get("reorder_share", 0.0),
            int(quirks.get("batch_s", 0)),
            quirks.get("clock_s", 0.0),
        )
        for n in range(max(-(-(last - first) // per_gateway), 1))
    )
    digits = max(2, len(str(last - first)))
    made: list[Room] = []
    for number in range(first, last):
        inside = number - first
        kind = templates[number % len(templates)]
        made.append(
            build.room(
                kind,
                seed,
                number,
                f"room-{inside + 1:0{digits}d}",
                slug,
                gateways[inside // per_gateway].slug,
            )
        )
    facility = Facility(slug, table.text("name", slug), zone, table.numbers("rules"), gateways, tuple(made))
    table.done()
    return facility


def _event(where: str, given: Any, scenario: Scenario) -> Event | None:
    """One placed event, or `None` if its room or subject is not in this fleet."""
    table = Table(where, given)
    name = table.text("event", accepted=tuple(EVENTS))
    kind = EVENTS[name]
    number = table.whole("room", 1, 100_000)
    inside = kind.target in ("container", "line", "reservoir")
    at = table.whole(kind.target, 1, 100, 1) if inside else 1
    begin = _begin(table, scenario)
    hours = table.number("hours", 0.01, 100_000) if table.has("hours") else None
    values = {key: table.number(key, -1e6, 1e6, (low + high) / 2) for key, (low, high) in kind.values.items()}
    table.done()
    rooms = scenario.rooms
    if number > len(rooms):
        return None
    room = rooms[number - 1]
    things: dict[str, list[str]] = {
        "container": [c.slug for c in room.containers],
        "line": [line.slug for line in room.lines],
        "reservoir": [r.slug for r in room.reservoirs],
    }
    subject = {"room": room.slug, "gateway": room.gateway}.get(kind.target)
    if subject is None:
        among = things[kind.target]
        if at > len(among):
            raise InputError(f"{where}: {kind.target}", at, f"1 to {len(among)} in room {number}")
        subject = among[at - 1]
    end = None if hours is None else begin + timedelta(hours=hours)
    return Event(name, room.facility, room.slug, subject, begin, end, values)


def _begin(table: Table, scenario: Scenario) -> datetime:
    given = [key for key in ("day", "days_before_end", "minutes_after_end") if table.has(key)]
    if len(given) != 1:
        raise InputError(f"{table.where}: time", ", ".join(given), "one of day, days_before_end, minutes_after_end")
    value = table.number(given[0], 0, 1e6)
    if given[0] == "day":
        return scenario.start + timedelta(days=value)
    if given[0] == "days_before_end":
        return scenario.end - timedelta(days=value)
    return scenario.end + timedelta(minutes=value)
