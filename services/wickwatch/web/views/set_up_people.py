"""People with a role in a facility, and what each role may do in words. Not here: changing them (`web.changing`)."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from uuid import UUID

from wickwatch.store.members import Member
from wickwatch.store.people import Role, Visible
from wickwatch.texts import N_, Words
from wickwatch.web.permits import allowed
from wickwatch.web.views import words

#: What each role is for.
ROLES = Words(
    {
        "viewer": N_("sees everything here"),
        "grower": N_("answers alarms and records work, too"),
        "manager": N_("sets up, changes rules and the rota, too"),
        "administrator": N_("adds people, too"),
    }
)


@dataclass(frozen=True)
class MemberLine:
    """One person: `may_change` their role here, `may_renew` their password."""

    id: UUID
    name: str
    role: Role
    everywhere: bool
    reached: str
    signs_in: bool
    may_change: bool
    may_renew: bool


@dataclass(frozen=True)
class PeoplePage:
    """Everybody with a role in a facility."""

    facility: Visible
    lines: tuple[MemberLine, ...]
    roles: Mapping[str, str]
    may_edit: bool
    error: str
    name: str
    secret_of: str
    secret: str


def page(
    facility: Visible,
    members: Sequence[Member],
    visitor: UUID,
    error: str = "",
    name: str = "",
    secret_of: str = "",
    secret: str = "",
) -> PeoplePage:
    """The page; administrators of the facility change it. `secret` is the new password of somebody, shown this once."""
    may_edit = allowed(facility, "manage people")
    lines = tuple(
        MemberLine(
            id=one.id,
            name=one.name,
            role=one.role or one.everywhere or "viewer",
            everywhere=one.role is None,
            reached=words.names([words.WAYS[way] for way in dict.fromkeys(one.ways)]),
            signs_in=one.signs_in,
            may_change=may_edit and one.role is not None and one.id != visitor,
            may_renew=may_edit and not one.elsewhere and one.id != visitor,
        )
        for one in members
    )
    return PeoplePage(facility, lines, ROLES, may_edit, error, name, secret_of, secret)
