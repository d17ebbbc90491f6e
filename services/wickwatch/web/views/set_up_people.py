"""People with a role in a facility, and what each role may do in words. Not here: changing them (`store.members`)."""

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
    """One person: `may_change` their role here, `may_renew` their password, or let them choose a first one.

    `mail` is the address that the visitor gives whoever does not sign in; None where it is not theirs to give.
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

    `may_renew` where the visitor administers every facility, and makes links for whoever signs in already, too.
    The address of an `invitation`, or where to choose a `password`, is shown this once, with whom it is for.
    """

    facility: Visible
    lines: tuple[MemberLine, ...]
    invited: tuple[InvitedLine, ...]
    roles: Mapping[str, str]
    may_edit: bool
    may_renew: bool
    realm: str
    error: str
    name: str
    link_for: str
    password: str
    invitation: str


def page(
    facility: Visible,
    members: Sequence[Member],
    invitations: Sequence[Invitation],
    visitor: UUID,
    now: datetime,
    realm: str,
    may_renew: bool,
    *,
    error: str = "",
    name: str = "",
    link_for: str = "",
    password: str = "",
    invitation: str = "",
) -> PeoplePage:
    """The page; administrators of the facility change it, managers say where to call whoever does not sign in.

    What may be done to whoever signs in never tells whether they have a role elsewhere.
    """
    may_edit, may_call = allowed(facility, "manage people"), allowed(facility, "name addresses to call")
    lines = tuple(
        MemberLine(
            id=one.id,
            name=one.name,
            role=one.role or one.everywhere or "viewer",
            everywhere=one.role is None,
            reached=words.names([words.WAYS[way] for way in dict.fromkeys(one.ways)]),
            mail=(one.mail or "") if may_call and one.id != visitor and ours(one) else None,
            signs_in=one.signs_in,
            may_change=may_edit and one.role is not None and one.id != visitor,
            may_renew=may_edit and one.role is not None and one.id != visitor and (may_renew or ours(one)),
        )
        for one in members
    )
    zone = ZoneInfo(facility.zone)
    invited = tuple(
        InvitedLine(one.id, one.label, one.role, moment(one.expires_at, zone, now)) for one in invitations if may_edit
    )
    return PeoplePage(
        facility, lines, invited, ROLES, may_edit, may_renew, realm, error, name, link_for, password, invitation
    )


def ours(one: Member) -> bool:
    """Whether somebody is this facility's alone to look after: they were added here and have never signed in.

    Only whoever signs in can accept a role elsewhere.
    """
    return one.role is not None and not one.signs_in and not one.elsewhere
