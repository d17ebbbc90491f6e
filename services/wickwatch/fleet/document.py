"""The fleet file, read: TOML to what it declares, with every problem of the file named at once.

Not here: writing one (`fleet.writing`), nor what a database holds. Reading is strict, because a misspelt key that is
skipped in silence is a limit that somebody believes to be in force.
"""

from __future__ import annotations

import tomllib
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from typing import Any, TypeVar

from wickwatch.agronomy.tank import SHAPES, Tank, tank_from_keys
from wickwatch.errors import InputError
from wickwatch.fleet.declared import (
    CHANNEL_FIELDS,
    Declared,
    DeclaredContainer,
    DeclaredFacility,
    DeclaredGateway,
    DeclaredLine,
    DeclaredReservoir,
    DeclaredRoom,
    attached,
    plain,
)
from wickwatch.fleet.rules import Rules
from wickwatch.fleet.table import Table
from wickwatch.texts import CLOCKS, PLAIN, TENSION_UNITS, VOLUME_UNITS, _, general, languages, ngettext

LINE_KINDS = ("loop", "dead-end")

#: A shape's measures; any other key of another shape is a mistake.
SHAPE_KEYS = {
    "cylinder": ("diameter_mm", "height_mm"),
    "box": ("length_mm", "width_mm", "height_mm"),
    "frustum": ("bottom_mm", "top_mm", "height_mm"),
    "lying-cylinder": ("diameter_mm", "length_mm", "height_mm"),
    "table": ("strapping", "height_mm"),
}

#: So many problems are told at once; nobody reads on.
_SHOWN = 50

_D = TypeVar("_D", bound=Declared)


class DocumentError(InputError):
    """A fleet file that can't be taken, with all that is wrong in it as `problems`."""

    def __init__(self, name: str, problems: Sequence[InputError]) -> None:
        count = len(problems)
        super().__init__(name, ngettext("%(num)s problem", "%(num)s problems", count), _("a fleet file"))
        self.problems = tuple(problems)
        self.name = name

    def __str__(self) -> str:
        if len(self.problems) == 1:
            return f"{self.name}: {self.problems[0]}"
        shown = [str(problem) for problem in self.problems[:_SHOWN]]
        if len(self.problems) > _SHOWN:
            shown.append(_("and %(num)s more", num=len(self.problems) - _SHOWN))
        return "\n  ".join([_("%(name)s has %(num)s problems:", name=self.name, num=len(self.problems)), *shown])


def parse(text: str | bytes, name: str = "fleet file") -> tuple[DeclaredFacility, ...]:
    """What a fleet file declares, in the order of the file. Raises DocumentError with every problem in it."""
    try:
        values = tomllib.loads(text.decode() if isinstance(text, bytes) else text)
    except (ValueError, RecursionError) as error:
        why = _("nested too deeply") if isinstance(error, RecursionError) else str(error)
        raise DocumentError(name, [InputError("text", why, _("TOML in UTF-8"))]) from None
    return declare(values, name)


def declare(values: Mapping[str, Any], name: str = "fleet file") -> tuple[DeclaredFacility, ...]:
    """What the tables of a fleet file declare, wherever they come from. Raises DocumentError likewise."""
    problems: list[InputError] = []
    root = Table(name, values, problems)
    facilities = _each(root, "facility", "", _facility)
    root.done()
    if not facilities and not problems:
        root.note("facility", None, _("at least one [[facility]]"))
    _once("", "facility", facilities, problems)
    _channels_once(facilities, problems)
    if problems:
        raise DocumentError(name, problems)
    return facilities


def _each(table: Table, key: str, parent: str, read: Callable[[Table], _D]) -> tuple[_D, ...]:
    """Read each table of an array; a table is called by its slug in problems, or by its place while it has none."""
    found = []
    for number, values in enumerate(table.tables(key), 1):
        slug = values.get("slug") if isinstance(values, dict) else None
        called = slug if isinstance(slug, str) and 0 < len(slug) <= 63 else f"number {number}"
        where = f"{parent}, {key} {called}" if parent else f"{key} {called}"
        one = read(Table(where, values, table.problems))
        found.append(one)
    return tuple(found)


def _facility(table: Table) -> DeclaredFacility:
    slug = table.slug()
    given, rules = table.rules(Rules())
    made = DeclaredFacility(
        slug=slug,
        name=table.text("name") or slug,
        zone=table.zone(),
        language=table.choice("language", tuple(languages()), PLAIN.language),
        tension_unit=table.choice("tension_unit", TENSION_UNITS, PLAIN.tension_unit),
        volume_unit=table.choice("volume_unit", VOLUME_UNITS, PLAIN.volume_unit),
        clock=table.choice("clock", CLOCKS, PLAIN.clock),
        rules=given,
        advice=table.advice(),
        gateways=_each(table, "gateway", table.where, _gateway),
        rooms=_each(table, "room", table.where, lambda room: _room(room, rules)),
    )
    table.done()
    _once(table.where, "gateway", made.gateways, table.problems)
    _once(table.where, "room", made.rooms, table.problems)
    return made


def _gateway(table: Table) -> DeclaredGateway:
    made = DeclaredGateway(table.slug())
    if made.slug == "alarms":
        table.note("slug", made.slug, _("another slug: topics of alarms stand where this gateway's would"))
    table.done()
    return made


def _room(table: Table, above: Rules) -> DeclaredRoom:
    slug = table.slug()
    given, rules = table.rules(above)
    lights_on, lights_off = table.clock("lights_on"), table.clock("lights_off")
    reservoirs = _each(table, "reservoir", table.where, lambda one: _reservoir(one, rules))
    tanks = [reservoir.slug for reservoir in reservoirs]
    lines = _each(table, "line", table.where, lambda one: _line(one, tanks))
    tubes = [line.slug for line in lines]
    made = DeclaredRoom(
        slug=slug,
        name=table.text("name") or slug,
        lights_on=lights_on,
        lights_off=lights_off,
        rules=given,
        **_channels(table, "room"),
        reservoirs=reservoirs,
        lines=lines,
        containers=_each(table, "container", table.where, lambda one: _container(one, tubes, rules)),
    )
    table.done()
    if lights_on == lights_off and table.clean:
        accepted = _("another time than lights_on; for light all day, 00:00 to 23:59")
        table.note("lights_off", lights_off.isoformat("minutes"), accepted)
    for what, group in (("reservoir", made.reservoirs), ("line", made.lines), ("container", made.containers)):
        _once(table.where, what, group, table.problems)
    return made


def _reservoir(table: Table, above: Rules) -> DeclaredReservoir:
    slug = table.slug()
    given = table.rules(above)[0]
    shape = table.choice("shape", SHAPES)
    keys = {key: value for key in SHAPE_KEYS[shape] if (value := table.take(key)) is not None}
    made = DeclaredReservoir(
        slug=slug,
        name=table.text("name") or slug,
        shape=shape,
        keys=plain(keys),
        outlet_mm=table.number("outlet_mm", 0, 20000, needed=True) or 0.0,
        sensor_zero_mm=table.number("sensor_zero_mm", -20000, 20000) or 0.0,
        head_mm=table.number("head_mm", 0, 20000) or 0.0,
        rules=given,
        **_channels(table, "reservoir"),
    )
    table.done()
    if not table.clean:
        return made
    try:
        _heights(table, made, tank_from_keys(shape, keys))
    except InputError as problem:
        table.note(problem.thing, problem.value, problem.accepted)
    return made


def _heights(table: Table, reservoir: DeclaredReservoir, tank: Tank) -> None:
    """Note heights that can't be: water that must stand above the rim, or a rim below the water."""
    height_mm = tank.height_mm
    given = reservoir.keys.get("height_mm", height_mm)
    if not isinstance(given, float) or given < height_mm:
        table.note(
            "height_mm",
            given,
            _("a height of at least %(height_mm)s, which the other measures give", height_mm=general(height_mm)),
        )
    empty_mm = reservoir.outlet_mm + reservoir.head_mm
    if not tank.lowest_mm <= empty_mm < height_mm:
        accepted = _(
            "together at least %(low)s and below the tank's height of %(height_mm)s",
            low=general(tank.lowest_mm),
            height_mm=general(height_mm),
        )
        table.note("outlet_mm plus head_mm", empty_mm, accepted)
    if reservoir.sensor_zero_mm >= height_mm:
        table.note(
            "sensor_zero_mm",
            reservoir.sensor_zero_mm,
            _("below the tank's height of %(height_mm)s", height_mm=general(height_mm)),
        )


def _line(table: Table, tanks: Sequence[str]) -> DeclaredLine:
    slug = table.slug()
    made = DeclaredLine(
        slug=slug,
        name=table.text("name") or slug,
        kind=table.choice("kind", LINE_KINDS),
        reservoir=table.reference("reservoir", "reservoir", tanks),
        **_channels(table, "line"),
    )
    table.done()
    return made


def _container(table: Table, tubes: Sequence[str], above: Rules) -> DeclaredContainer:
    slug = table.slug()
    given = table.rules(above)[0]
    made = DeclaredContainer(
        slug=slug,
        name=table.text("name") or slug,
        line=table.reference("line", "line", tubes),
        volume_l=table.number("volume_l", 0.001, 100_000),
        medium=table.text("medium"),
        stands_for=table.whole("stands_for", 1, 100_000, 1),
        rules=given,
        **_channels(table, "container"),
    )
    if made.twin is not None and made.tension is None:
        table.note("twin", made.twin, _("a second probe beside that of the key tension, which is not given"))
    table.done()
    return made


def _channels(table: Table, kind: str) -> dict[str, Any]:
    return {key: table.channel(key, quantity) for key, quantity in CHANNEL_FIELDS[kind].items()}


def _once(where: str, what: str, group: Sequence[Declared], problems: list[InputError]) -> None:
    """Note every slug that stands more than once in its group."""
    for slug, count in Counter(one.slug for one in group).items():
        if count > 1 and slug:
            accepted = _("a slug used once; this one stands %(num)s times", num=count)
            problems.append(InputError(f"{where}, {what}: slug" if where else f"{what}: slug", slug, accepted))


def _channels_once(facilities: Sequence[DeclaredFacility], problems: list[InputError]) -> None:
    """Note every channel that is attached to a second place: a probe can be in one only."""
    places: dict[str, str] = {}
    for facility in facilities:
        for room, kind, subject, key, channel in attached(facility):
            place = f"facility {facility.slug}, room {room}" + ("" if kind == "room" else f", {kind} {subject.slug}")
            if channel in places:
                accepted = _("a channel attached once; it is attached to %(place)s, too", place=places[channel])
                problems.append(InputError(f"{place}: {key}", channel, accepted))
            places.setdefault(channel, place)
