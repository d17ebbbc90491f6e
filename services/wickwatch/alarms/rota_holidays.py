"""Which days are public holidays where a facility stands, by the `holidays` library.

Countries are ISO 3166-1 codes of two letters, subdivisions those of ISO 3166-2 without the country. Not here: who has
the duty then (`rota`).
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from functools import cache

import holidays

from wickwatch.errors import InputError
from wickwatch.texts import _

#: Names are asked for in this language; a country without them gives its own.
_LANGUAGE = "en_US"


@cache
def countries() -> Mapping[str, tuple[str, ...]]:
    """Countries whose holidays are known, by code, with the codes of their subdivisions."""
    known = holidays.list_supported_countries(include_aliases=False)
    return {code: tuple(known[code]) for code in sorted(known)}


def check(country: str, subdivision: str | None) -> None:
    """Raise InputError for a country or subdivision whose holidays are not known."""
    known = countries()
    if country not in known:
        raise InputError(
            _("country of holidays"), country, _("an ISO 3166-1 code, one of: %(codes)s", codes=", ".join(known))
        )
    if subdivision is not None and subdivision not in known[country]:
        accepted = ", ".join(known[country]) or _("none: it has no subdivisions with holidays of their own")
        raise InputError(_("part of %(country)s", country=country), subdivision, accepted)


def between(country: str, subdivision: str | None, first: date, last: date) -> dict[date, str]:
    """Names of the public holidays from `first` to `last`, both included, by date. Raises InputError."""
    check(country, subdivision)
    years = (_of_year(country, subdivision, year) for year in range(first.year, last.year + 1))
    return {day: name for named in years for day, name in named.items() if first <= day <= last}


@cache
def _of_year(country: str, subdivision: str | None, year: int) -> Mapping[date, str]:
    """Names of one year's holidays in the order of their dates; kept, since each sweep asks who has the duty."""
    found = holidays.country_holidays(country, subdiv=subdivision, years=year, language=_LANGUAGE)
    return {day: found[day] for day in sorted(found) if day.year == year}
