"""Which fields each kind of thing has, in a grower's words; their names are the keys of the fleet file.

Not here: what they accept (`fleet.document`).
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from zoneinfo import available_timezones

from wickwatch.agronomy.media import MEDIA
from wickwatch.fleet.declared import DeclaredRoom
from wickwatch.fleet.document import SHAPE_KEYS
from wickwatch.texts import N_, Words, _, pgettext, volume_unit
from wickwatch.web.views.fields import Field, Group
from wickwatch.web.views.reading import reading_fields

#: The heading over the form of a new one, and its button.
NEW = Words(
    {
        "facility": N_("A new facility"),
        "gateway": N_("A new gateway"),
        "room": N_("A new room"),
        "reservoir": N_("A new reservoir"),
        "line": N_("A new supply line"),
        "container": N_("A new container"),
    }
)
ADD = Words(
    {
        "facility": N_("Add the facility"),
        "gateway": N_("Add the gateway"),
        "room": N_("Add the room"),
        "reservoir": N_("Add the reservoir"),
        "line": N_("Add the supply line"),
        "container": N_("Add the container"),
    }
)

SHAPES = Words(
    {
        "cylinder": N_("round and upright"),
        "box": N_("box"),
        "frustum": N_("round and tapered, as a bucket"),
        "lying-cylinder": N_("round and lying"),
        "table": N_("any other, by a table of fillings"),
    }
)

LINE_KINDS = Words(
    {
        "loop": N_("loop, fed from both ends"),
        "dead-end": N_("dead end, fed from one end"),
    }
)

#: Containers that one form adds at most.
MOST_AT_ONCE = 200

_MEASURES = Words(
    {
        "diameter_mm": N_("Inner diameter"),
        "length_mm": N_("Inner length"),
        "width_mm": N_("Inner width"),
        "bottom_mm": N_("Inner diameter at the bottom"),
        "top_mm": N_("Inner diameter at the top"),
        "height_mm": N_("Inner height"),
        "strapping": N_("Fillings"),
    }
)


def _measure(key: str) -> Field:
    if key != "strapping":
        return Field(key, _MEASURES[key], "number", unit="mm", required=True)
    hint = _(
        "One row for each: level in mm, then %(unit)s. Begin with the lowest; fill it can by can to find them.",
        unit=volume_unit().name,
    )
    return Field(key, _MEASURES[key], "rows", hint, required=True)


def fields_of(kind: str, room: DeclaredRoom | None = None, shape: str = "", *, new: bool = False) -> tuple[Group, ...]:
    """The form of a kind of thing; `room` is the one it stands in, `shape` that of a reservoir."""
    naming = (_slug(kind),) if new else ()
    if kind == "facility":
        return (Group("what", "", (_name(pgettext("example", "Birchwood House")), _zone(), *naming)), _reading())
    if kind == "gateway":
        return (Group("what", "", (_slug(kind),)),)
    if kind == "room":
        return (Group("what", "", (_name(pgettext("example", "Room 3")), *naming)), _lights())
    assert room is not None
    if kind == "reservoir":
        measures = tuple(_measure(key) for key in SHAPE_KEYS[shape] if (shape, key) not in _IMPLIED)
        shaped = Field("shape", _("Shape"), "choice", required=True, choices=tuple(SHAPES.items()), value=shape)
        return (
            Group("what", "", (_name(pgettext("example", "East tank")), *naming)),
            Group("measures", _("Its shape"), (shaped, *measures), _("Inner measures: the wall holds no water.")),
            _heights(),
        )
    if kind == "line":
        fed = _choice(
            "reservoir",
            _("Fed by"),
            [(one.slug, one.name) for one in room.reservoirs],
            _("no reservoir known here"),
        )
        shaped = Field("kind", _("Laid as"), "choice", required=True, choices=tuple(LINE_KINDS.items()))
        return (Group("what", "", (_name(pgettext("example", "Loop")), fed, shaped, *naming)),)
    return (Group("what", "", (_name(pgettext("example", "Pot")), *_container(room), *naming)),)


def hidden_keys(shape: str) -> dict[str, object]:
    """Measures that this shape does not ask for, which go when it is chosen."""
    every = {key for keys in SHAPE_KEYS.values() for key in keys}
    return {key: None for key in every if key not in SHAPE_KEYS[shape] or (shape, key) in _IMPLIED}


#: Heights that follow from the other measures, and are not asked for.
_IMPLIED = {("lying-cylinder", "height_mm"), ("table", "height_mm")}


def _name(example: str) -> Field:
    return Field("name", _("Name"), hint=_("As people call it, such as %(name)s.", name=example), required=True)


def _slug(kind: str) -> Field:
    hint = _("Small letters, digits and hyphens. It stays for good; left empty, it is made from the name.")
    if kind == "gateway":
        hint = _("As it stands in the topic it publishes to, such as gw-01.")
    elif kind == "facility":
        hint = " ".join([_("Gateways publish to it."), hint])
    return Field("slug", _("Short name"), hint=hint, required=kind == "gateway")


def _zone() -> Field:
    hint = _("Whose clock the facility goes by, such as Europe/Oslo.")
    return Field("zone", _("Time zone"), hint=hint, required=True, suggestions=_zones())


@cache
def _zones() -> tuple[str, ...]:
    """Zones by place; read once, since each reading walks the whole database of them."""
    return tuple(sorted(zone for zone in available_timezones() if "/" in zone and not zone.startswith("Etc/")))


def _reading() -> Group:
    hint = _("For whoever did not choose their own, and for what is written for nobody in particular.")
    return Group("reading", _("Language and units"), reading_fields(), hint)


def _lights() -> Group:
    hint = _("By the facility's clock. Where they go off before they go on, they are on over midnight.")
    on = Field("lights_on", _("Lights on"), "time", required=True, value="06:00")
    off = Field("lights_off", _("Lights off"), "time", required=True, value="18:00")
    return Group("lights", _("Light"), (on, off), hint)


def _heights() -> Group:
    outlet = Field("outlet_mm", _("Outlet"), "number", _("Its height above the bottom."), "mm", required=True)
    told = _("Below it the line starves.")
    head = Field("head_mm", _("Water needed above the outlet"), "number", told, "mm", value="0")
    hint = _("Where the level sensor reads 0, above the bottom; below the bottom with a minus.")
    zero = Field("sensor_zero_mm", _("Zero of the level sensor"), "number", hint, "mm", value="0")
    return Group("heights", _("Heights"), (outlet, head, zero))


def _container(room: DeclaredRoom) -> tuple[Field, ...]:
    media = tuple(MEDIA)
    return (
        _choice("line", _("Watered by"), [(one.slug, one.name) for one in room.lines], _("no supply line known here")),
        Field("volume_l", _("Holds"), "number", _("Medium and water together."), volume_unit().name),
        Field("medium", _("Medium"), hint=_("Such as peat-perlite or coir."), suggestions=media),
        Field(
            "stands_for",
            _("Its probe speaks for"),
            "number",
            _("Like containers, itself included: 1 where each has a probe of its own."),
            _("containers"),
            value="1",
        ),
    )


def count_field() -> Field:
    """How many like containers a form adds."""
    hint = _("More than one are numbered: Pot 01, Pot 02 and on.")
    return Field("count", _("How many of them"), "number", hint, value="1")


def _choice(name: str, label: str, things: Sequence[tuple[str, str]], none: str) -> Field:
    first = things[0][0] if things else ""
    return Field(name, label, "choice", choices=(*things, ("", none)), value=first)
