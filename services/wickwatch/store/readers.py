"""What people chose to read in, and what their facility has for those who chose nothing.

Not here: what a choice does (`wickwatch.texts`).
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, LiteralString
from uuid import UUID

from wickwatch.errors import InputError
from wickwatch.store.connect import Connection
from wickwatch.texts import CLOCKS, PLAIN, TENSION_UNITS, VOLUME_UNITS, Choices, languages

# What each of some people chose, with the rest from a facility they have a role in: that one, or the first by name.
_READERS: LiteralString = """
SELECT p.id, coalesce(p.language, f.language), coalesce(p.tension_unit, f.tension_unit),
       coalesce(p.volume_unit, f.volume_unit), coalesce(p.clock, f.clock)
FROM person p
LEFT JOIN LATERAL (
    SELECT f.language, f.tension_unit, f.volume_unit, f.clock
    FROM membership m JOIN facility f ON (f.id = m.facility_id OR m.facility_id IS NULL) AND f.retired_at IS NULL
    WHERE m.person_id = p.id AND (%(facility)s::uuid IS NULL OR f.id = %(facility)s)
    ORDER BY f.name, f.slug LIMIT 1
) f ON true
WHERE p.id = ANY (%(people)s)
"""

# What a facility has.
_FACILITY: LiteralString = "SELECT language, tension_unit, volume_unit, clock FROM facility WHERE id = %s"

# What one person chose, null where that is nothing.
_CHOSEN: LiteralString = "SELECT language, tension_unit, volume_unit, clock FROM person WHERE id = %s"

# Choose.
_CHOOSE: LiteralString = """
UPDATE person SET language = %s, tension_unit = %s, volume_unit = %s, clock = %s WHERE id = %s
"""


@dataclass(frozen=True)
class Chosen:
    """What a person chose; None where it is as the facility has it."""

    language: str | None = None
    tension_unit: str | None = None
    volume_unit: str | None = None
    clock: str | None = None


def of_people(conn: Connection, people: Collection[UUID], facility_id: UUID | None = None) -> dict[UUID, Choices]:
    """How to speak to each of some people, about one facility or about whatever they may see."""
    asked = {"people": list(people), "facility": facility_id}
    return {id: _choices(row) for id, *row in conn.execute(_READERS, asked)}


def of_person(conn: Connection, person_id: UUID, facility_id: UUID | None = None) -> Choices:
    """The same of one person."""
    return of_people(conn, [person_id], facility_id).get(person_id, PLAIN)


def of_facility(conn: Connection, facility_id: UUID) -> Choices:
    """What is spoken in a facility where nobody in particular is spoken to."""
    return _choices(conn.execute(_FACILITY, (facility_id,)).fetchone() or ())


def chosen(conn: Connection, person_id: UUID) -> Chosen:
    """What a person chose."""
    return Chosen(*(conn.execute(_CHOSEN, (person_id,)).fetchone() or ()))


def choose(conn: Connection, person_id: UUID, wanted: Chosen) -> None:
    """Keep what a person chose. Raises InputError for what can't be chosen."""
    possible: Mapping[str, Collection[str]] = {
        "language": languages(),
        "tension_unit": TENSION_UNITS,
        "volume_unit": VOLUME_UNITS,
        "clock": CLOCKS,
    }
    for name, accepted in possible.items():
        value = getattr(wanted, name)
        if value is not None and value not in accepted:
            raise InputError(name, value, ", ".join(accepted))
    conn.execute(_CHOOSE, (wanted.language, wanted.tension_unit, wanted.volume_unit, wanted.clock, person_id))


def _choices(row: Sequence[Any]) -> Choices:
    """Choices from columns, plain where one is null; so is a language whose catalogue has gone."""
    given = {key: value for key, value in zip(vars(PLAIN), row, strict=False) if value is not None}
    if given.get("language") not in languages():
        given.pop("language", None)
    return Choices(**given)
