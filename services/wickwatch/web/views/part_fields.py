"""Which fields each kind of thing has, in a grower's words; their names are the keys of the fleet file.

Not here: what they accept (`fleet.document`).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import cache
from zoneinfo import available_timezones

from wickwatch.agronomy.media import MEDIA
from wickwatch.fleet.declared import DeclaredRoom
from wickwatch.fleet.document import SHAPE_KEYS
from wickwatch.texts import _
from wickwatch.web.views.fields import Field, Group
from wickwatch.web.views.reading import reading_fields

#: What a kind of thing is called.
CALLED: Mapping[str, str] = {
    "facility": "facility",
    "gateway": "gateway",
    "room": "room",
    "reservoir": "reservoir",
    "line": "supply line",
    "container": "container",
}

SHAPES: Mapping[str, str] = {
    "cylinder": "round and upright",
    "box": "box",
    "frustum": "round and tapered, as a bucket",
    "lying-cylinder": "round and lying",
    "table": "any other, by a table of fillings",
}

LINE_KINDS: Mapping[str, str] = {
    "loop": "loop, fed from both ends",
    "dead-end": "dead end, fed from one end",
}

#: Containers that one form adds at most.
MOST_AT_ONCE = 200

_MEASURES: Mapping[str, Field] = {
    field.name: field
    for field in (
        Field("diameter_mm", "Inner diameter", "number", unit="mm", required=True),
        Field("length_mm", "Inner length", "number", unit="mm", required=True),
        Field("width_mm", "Inner width", "number", unit="mm", required=True),
        Field("bottom_mm", "Inner diameter at the bottom", "number", unit="mm", required=True),
        Field("top_mm", "Inner diameter at the top", "number", unit="mm", required=True),
        Field("height_mm", "Inner height", "number", unit="mm", required=True),
        Field(
            "strapping",
            "Fillings",
            "rows",
            "One row for each: level in mm, then litres. Begin with the lowest; fill it can by can to find them.",
            required=True,
        ),
    )
}


def fields_of(kind: str, room: DeclaredRoom | None = None, shape: str = "", *, new: bool = False) -> tuple[Group, ...]:
    """The form of a kind of thing; `room` is the one it stands in, `shape` that of a reservoir."""
    naming = (_slug(kind),) if new else ()
    if kind == "facility":
        return (Group("what", "", (_name("Birchwood House"), _zone(), *naming)), _reading())
    if kind == "gateway":
        return (Group("what", "", (_slug(kind),)),)
    if kind == "room":
        return (Group("what", "", (_name("Room 3"), *naming)), _lights())
    assert room is not None
    if kind == "reservoir":
        measures = tuple(_MEASURES[key] for key in SHAPE_KEYS[shape] if (shape, key) not in _IMPLIED)
        shaped = Field("shape", "Shape", "choice", required=True, choices=tuple(SHAPES.items()), value=shape)
        return (
            Group("what", "", (_name("East tank"), *naming)),
            Group("measures", "Its shape", (shaped, *measures), "Inner measures: the wall holds no water."),
            _heights(),
        )
    if kind == "line":
        fed = _choice(
            "reservoir", "Fed by", [(one.slug, one.name) for one in room.reservoirs], "no reservoir known here"
        )
        shaped = Field("kind", "Laid as", "choice", required=True, choices=tuple(LINE_KINDS.items()))
        return (Group("what", "", (_name("Loop"), fed, shaped, *naming)),)
    return (Group("what", "", (_name("Pot"), *_container(room), *naming)),)


def hidden_keys(shape: str) -> dict[str, object]:
    """Measures that this shape does not ask for, which go when it is chosen."""
    every = {key for keys in SHAPE_KEYS.values() for key in keys}
    return {key: None for key in every if key not in SHAPE_KEYS[shape] or (shape, key) in _IMPLIED}


#: Heights that follow from the other measures, and are not asked for.
_IMPLIED = {("lying-cylinder", "height_mm"), ("table", "height_mm")}


def _name(example: str) -> Field:
    return Field("name", "Name", hint=f"As people call it, such as {example}.", required=True)


def _slug(kind: str) -> Field:
    hint = "Small letters, digits and hyphens. It stays for good; left empty, it is made from the name."
    if kind == "gateway":
        hint = "As it stands in the topic it publishes to, such as gw-01."
    elif kind == "facility":
        hint = "Gateways publish to it. " + hint
    return Field("slug", "Short name", hint=hint, required=kind == "gateway")


def _zone() -> Field:
    hint = "Whose clock the facility goes by, such as Europe/Oslo."
    return Field("zone", "Time zone", hint=hint, required=True, suggestions=_zones())


@cache
def _zones() -> tuple[str, ...]:
    """Zones by place; read once, since each reading walks the whole database of them."""
    return tuple(sorted(zone for zone in available_timezones() if "/" in zone and not zone.startswith("Etc/")))


def _reading() -> Group:
    hint = _("For whoever did not choose their own, and for what is written for nobody in particular.")
    return Group("reading", _("Language and units"), reading_fields(), hint)


def _lights() -> Group:
    hint = "By the facility's clock. Where they go off before they go on, they are on over midnight."
    on = Field("lights_on", "Lights on", "time", required=True, value="06:00")
    off = Field("lights_off", "Lights off", "time", required=True, value="18:00")
    return Group("lights", "Light", (on, off), hint)


def _heights() -> Group:
    outlet = Field("outlet_mm", "Outlet", "number", "Its height above the bottom.", "mm", required=True)
    head = Field("head_mm", "Water needed above the outlet", "number", "Below it the line starves.", "mm", value="0")
    hint = "Where the level sensor reads 0, above the bottom; below the bottom with a minus."
    zero = Field("sensor_zero_mm", "Zero of the level sensor", "number", hint, "mm", value="0")
    return Group("heights", "Heights", (outlet, head, zero))


def _container(room: DeclaredRoom) -> tuple[Field, ...]:
    media = tuple(MEDIA)
    return (
        _choice("line", "Watered by", [(one.slug, one.name) for one in room.lines], "no supply line known here"),
        Field("volume_l", "Holds", "number", "Medium and water together.", "l"),
        Field("medium", "Medium", hint="Such as peat-perlite or coir.", suggestions=media),
        Field(
            "stands_for",
            "Its probe speaks for",
            "number",
            "Like containers, itself included: 1 where each has a probe of its own.",
            "containers",
            value="1",
        ),
    )


def count_field() -> Field:
    """How many like containers a form adds."""
    hint = "More than one are numbered: Pot 01, Pot 02 and on."
    return Field("count", "How many of them", "number", hint, value="1")


def _choice(name: str, label: str, things: Sequence[tuple[str, str]], none: str) -> Field:
    first = things[0][0] if things else ""
    return Field(name, label, "choice", choices=(*things, ("", none)), value=first)
