"""What is said to a reader, in the reader's language and units: texts, numbers, quantities, times.

A function says what it has to say with `_` and its kin, as `gettext` does; who is spoken to stands in the context
(`speaking`), so that no function carries it along. Where nobody is, as in commands, the API and outgoing messages for
programs, it is plain English, mbar, litres and 24 hours. Not here: any sentence.
"""

from wickwatch.texts.catalogue import (
    N_,
    Words,
    _,
    capital,
    country,
    languages,
    ngettext,
    npgettext,
    pgettext,
    translations,
)
from wickwatch.texts.choices import CLOCKS, PLAIN, TENSION_UNITS, VOLUME_UNITS, Choices, speak, speaking, spoken
from wickwatch.texts.quantities import (
    Unit,
    draw,
    field,
    general,
    grouped,
    number,
    point,
    tension,
    tension_unit,
    volume,
    volume_unit,
)
from wickwatch.texts.times import date_of, day_name, day_of, named_day, time_of_day

__all__ = [
    "CLOCKS",
    "N_",
    "PLAIN",
    "TENSION_UNITS",
    "VOLUME_UNITS",
    "Choices",
    "Unit",
    "Words",
    "_",
    "capital",
    "country",
    "date_of",
    "day_name",
    "day_of",
    "draw",
    "field",
    "general",
    "grouped",
    "languages",
    "named_day",
    "ngettext",
    "npgettext",
    "number",
    "pgettext",
    "point",
    "speak",
    "speaking",
    "spoken",
    "tension",
    "tension_unit",
    "time_of_day",
    "translations",
    "volume",
    "volume_unit",
]
