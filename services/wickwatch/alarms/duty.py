"""Who is on duty in a facility at one moment, and how they are reached: plain data.

Not here: how a rota is kept (`store.rota`), nor when the next step is called.
"""

from __future__ import annotations

from dataclasses import dataclass
from uuid import UUID


@dataclass(frozen=True)
class Contact:
    """One way to reach a person; `address` is a mail address or a URL."""

    id: UUID
    way: str
    address: str


@dataclass(frozen=True)
class OnDuty:
    """A person at one step of the rota, with contacts in the order they are tried."""

    step: int
    person_id: UUID
    name: str
    contacts: tuple[Contact, ...]


@dataclass(frozen=True)
class Duty:
    """Everybody on duty by step, 1 first. `fallback` tells that the rota names nobody who can be reached.

    Then the managers and administrators of the facility stand at step 1, all of them.
    """

    people: tuple[OnDuty, ...] = ()
    fallback: bool = False

    def at(self, step: int) -> tuple[OnDuty, ...]:
        """Those who are called at a step."""
        return tuple(person for person in self.people if person.step == step)

    @property
    def first(self) -> tuple[OnDuty, ...]:
        """Those called first: the lowest step at which somebody can be reached."""
        reachable = [person for person in self.people if person.contacts]
        lowest = min((person.step for person in reachable), default=0)
        return tuple(person for person in reachable if person.step == lowest)
