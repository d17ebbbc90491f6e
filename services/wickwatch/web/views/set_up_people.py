"""People with a role in a facility, and what each role may do in words. Not here: changing them (`web.changing`)."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID
from zoneinfo import ZoneInfo

from wickwatch.store.invitations import Invitation
from wickwatch.store.members import Member
from wickwatch.store.people import Role, Visible
from wickwatch.texts import N_, Words
from wickwatch.web.permits import allowed
from wickwatch.web.views import words
from wickwatch.web.views.times import Moment, moment

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
    """One person: `may_change` their role here, `may_renew` their password.

    `mail` is the address that an administrator gives whoever does not sign in; None where it is not theirs to give.
    """

    id: UUID
    name: str
    role: Role
    everywhere: bool
    reached: str
    mail: str | None
    signs_in: bool
    may_change: bool
    may_renew: bool


@dataclass(frozen=True)
class InvitedLine:
    """One invitation that may still be accepted."""

    id: UUID
    label: str
    role: Role
    until: Moment


@dataclass(frozen=True)
class InvitationPage:
    """What an invitation offers; `seen` is the facility where its reader has a role there already."""

    facility: str
    role: Role
    what: str
    made_by: str
    seen: Visible | None


@dataclass(frozen=True)
class PeoplePage:
    """Everybody with a role in a facility; `realm` is put behind a new name.

    `secret` or the address of an `invitation` is shown this once.
    """

    facility: Visible
    lines: tuple[MemberLine, ...]
    invited: tuple[InvitedLine, ...]
    roles: Mapping[str, str]
    may_edit: bool
    realm: str
    error: str
    name: str
    secret_of: str
    secret: str
    invitation: str


def page(
    facility: Visible,
    members: Sequence[Member],
    invitations: Sequence[Invitation],
    visitor: UUID,
    now: datetime,
    realm: str,
    *,
    error: str = "",
    name: str = "",
    secret_of: str = "",
    secret: str = "",
    invitation: str = "",
) -> PeoplePage:
    """The page; administrators of the facility change it. `secret` is the new password of somebody."""
    may_edit = allowed(facility, "manage people")
    lines = tuple(
        MemberLine(
            id=one.id,
            name=one.name,
            role=one.role or one.everywhere or "viewer",
            everywhere=one.role is None,
            reached=words.names([words.WAYS[way] for way in dict.fromkeys(one.ways)]),
            mail=(one.mail or "") if may_edit and not one.signs_in and not one.elsewhere else None,
            signs_in=one.signs_in,
            may_change=may_edit and one.role is not None and one.id != visitor,
            may_renew=may_edit and not one.elsewhere and one.id != visitor,
        )
        for one in members
    )
    zone = ZoneInfo(facility.zone)
    invited = tuple(
        InvitedLine(one.id, one.label, one.role, moment(one.expires_at, zone, now)) for one in invitations if may_edit
    )
    return PeoplePage(facility, lines, invited, ROLES, may_edit, realm, error, name, secret_of, secret, invitation)
