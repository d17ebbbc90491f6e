"""Who is on duty in a facility at one moment, and how they are reached: plain data.

Not here: how a rota is kept (`store.rota`), nor when the next rung is called (`escalation`).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from functools import cached_property
from uuid import UUID

from wickwatch.alarms.model import PRIORITIES, Priority
from wickwatch.alarms.policy import QUIET

#: How long those called have to say "mine" before the next are called, where the facility says nothing else. Chosen
#: here: long enough to wake up and reach for a phone, short against the hours in which a pot dries.
ANSWER_WITHIN = timedelta(minutes=10)


@dataclass(frozen=True)
class Contact:
    """One way to reach a person; `address` is a mail address or a URL."""

    id: UUID
    way: str
    address: str


@dataclass(frozen=True)
class OnDuty:
    """A person at one step of the rota, with contacts in the order they are tried.

    `quiet_until` is the end of the quiet hours that they are in at that moment, `None` outside them: until then a call
    of low priority waits.
    """

    step: int
    person_id: UUID
    name: str
    contacts: tuple[Contact, ...]
    quiet_until: datetime | None = None


@dataclass(frozen=True)
class Duty:
    """Everybody on duty by step, 1 first. `fallback` tells that the rota names nobody who can be reached.

    Then the managers and administrators of the facility stand at step 1, all of them. `managers` are those who can be
    reached, called when nobody of the rota answers. `answer_within` is how long those of a step have to say "mine"
    before the next are called, where the facility has said so.
    """

    people: tuple[OnDuty, ...] = ()
    fallback: bool = False
    managers: tuple[OnDuty, ...] = ()
    answer_within: Mapping[int, timedelta] = field(default_factory=dict)

    def at(self, step: int) -> tuple[OnDuty, ...]:
        """Those who are called at a step."""
        return tuple(person for person in self.people if person.step == step)

    @cached_property
    def ladder(self) -> tuple[tuple[OnDuty, ...], ...]:
        """Who is called, rung by rung: each step at which somebody can be reached, then the managers.

        Nobody stands on two rungs: who was called and did not answer is not called a second time as somebody else.
        """
        steps = sorted({person.step for person in self.people})
        called: set[UUID] = set()
        rungs: list[tuple[OnDuty, ...]] = []
        for people in (*(self.at(step) for step in steps), self.managers):
            fresh = tuple(person for person in people if person.contacts and person.person_id not in called)
            called |= {person.person_id for person in fresh}
            if fresh:
                rungs.append(fresh)
        return tuple(rungs)

    @property
    def waits(self) -> tuple[timedelta, ...]:
        """How long each rung of the ladder has to say "mine" before the next is called."""
        return tuple(self.answer_within.get(rung[0].step, ANSWER_WITHIN) for rung in self.ladder)

    @property
    def waiting(self) -> frozenset[Priority]:
        """Priorities whose calls have to wait: nobody can be reached, or all who are first are in quiet hours."""
        if not self.ladder:
            return frozenset(PRIORITIES)
        return QUIET if all(person.quiet_until for person in self.ladder[0]) else frozenset()

    def called(self, rung: int, priority: Priority) -> tuple[OnDuty, ...]:
        """Those called on a rung (1 is the first) for an alarm of a priority: who is in quiet hours is spared it."""
        people = self.ladder[rung - 1] if 1 <= rung <= len(self.ladder) else ()
        return tuple(person for person in people if priority not in QUIET or person.quiet_until is None)

    @property
    def first(self) -> tuple[OnDuty, ...]:
        """Those called first."""
        return self.ladder[0] if self.ladder else ()
