"""In what people read, as fields of a form: language, units, clock. Not here: what they chose (`store.readers`)."""

from __future__ import annotations

from collections.abc import Mapping

from wickwatch.store.readers import Chosen
from wickwatch.texts import CLOCKS, N_, PLAIN, TENSION_UNITS, VOLUME_UNITS, Words, _, languages, pgettext
from wickwatch.web.views.fields import Field

_VOLUMES = Words({"l": N_("litres"), "gal": N_("US gallons")})
_CLOCKS = Words({"24h": N_("24 hours, 18:30"), "12h": N_("12 hours, 6:30 pm")})


def reading_fields(chosen: Mapping[str, str | None] = vars(PLAIN), none: str = "") -> tuple[Field, ...]:
    """The fields; with `none` each has that first, for what is not chosen."""
    choices = {
        "language": (_("Language"), tuple(languages().items())),
        "tension_unit": (_("Tension in"), tuple((unit, unit) for unit in TENSION_UNITS)),
        "volume_unit": (_("Water in"), tuple((unit, _VOLUMES[unit]) for unit in VOLUME_UNITS)),
        "clock": (pgettext("field", "Clock"), tuple((clock, _CLOCKS[clock]) for clock in CLOCKS)),
    }
    unset = (("", none),) if none else ()
    return tuple(
        Field(name, label, "choice", choices=(*unset, *possible), value=chosen.get(name) or "")
        for name, (label, possible) in choices.items()
    )


def own_fields(chosen: Chosen) -> tuple[Field, ...]:
    """The same for one person, who may leave it to the facility."""
    return reading_fields(vars(chosen), _("same as the facility"))
