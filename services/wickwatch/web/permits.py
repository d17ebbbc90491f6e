"""Who may do what: the one table that pages and the JSON API go by, and the deed that each address stands for.

A deed asks for a role in the facility it is done to, and of a token for a scope. An address that no table names is for
administrators only, so that a forgotten line closes a door and opens none; a test names it. Not here: who is asking
(`web.access`).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from wickwatch.store.access import SCOPES, Scope
from wickwatch.store.people import Role, Visible

Deed = Literal[
    "see",
    "keep own account",
    "answer alarms",
    "record work",
    "take out of service",
    "send readings",
    "order reports",
    "see health",
    "see undelivered calls",
    "try calls again",
    "change the rota",
    "write advice",
    "name addresses to call",
    "set up",
    "manage people",
    "add facilities",
    "end facilities",
    "administer",
]

#: Doors that ask for nobody: anybody's, a notice's signed link, and what only a calendar's reader, a device or somebody
#: who was handed an address knows.
Door = Literal["open", "link", "secret"]


@dataclass(frozen=True)
class Permit:
    """The least role that may do something where it is done, None for everybody who is known; and a token's scope."""

    role: Role | None
    scope: Scope


#: Every deed. A token that only writes does the day's work and brings readings in; what is watched, who is called and
#: who may do what needs one for all.
PERMITS: Mapping[Deed, Permit] = {
    "see": Permit("viewer", "read"),
    "keep own account": Permit(None, "write"),  # own contacts, quiet hours, calendars, subscriptions
    "answer alarms": Permit("grower", "write"),
    "record work": Permit("grower", "write"),
    "take out of service": Permit("grower", "write"),
    "send readings": Permit("manager", "write"),
    "order reports": Permit("manager", "write"),
    "see health": Permit("manager", "read"),
    "see undelivered calls": Permit("manager", "read"),
    "try calls again": Permit("manager", "write"),
    "change the rota": Permit("manager", "admin"),
    "write advice": Permit("manager", "admin"),
    "name addresses to call": Permit("manager", "admin"),  # webhooks and services may lie inside the house
    "set up": Permit("manager", "admin"),
    "manage people": Permit("administrator", "admin"),
    "add facilities": Permit(None, "admin"),  # whoever administers all, those to come too; there may be none yet
    "end facilities": Permit("administrator", "admin"),
    "administer": Permit("administrator", "admin"),
}


def allowed(visible: Visible, deed: Deed) -> bool:
    """Whether the role held in a facility lets its holder do something there."""
    role = PERMITS[deed].role
    return role is None or visible.allows(role)


def within(scope: Scope | None, deed: Deed) -> bool:
    """Whether a token of this scope may be used for a deed; None is a session, which is for everything."""
    return scope is None or SCOPES.index(scope) >= SCOPES.index(PERMITS[deed].scope)


def door(method: str, path: str) -> Deed | Door:
    """What an address stands for, by the template of its path; unlisted ones are the administrators'."""
    return DOORS.get(f"{'GET' if method == 'HEAD' else method} {path}", "administer")


#: Every address of the application. What stands in a facility is looked at there once more, when it is known which.
DOORS: Mapping[str, Deed | Door] = {
    # the API
    "GET /api/v1/rooms": "see",
    "GET /api/v1/rooms/{id}": "see",
    "GET /api/v1/rooms/{id}/settled": "see",
    "GET /api/v1/channels": "see",
    "PUT /api/v1/channels/{id}/assignment": "set up",
    "GET /api/v1/readings": "see",
    "POST /api/v1/readings": "send readings",
    "GET /api/v1/alarms": "see",
    "GET /api/v1/alarms/{id}": "see",
    "POST /api/v1/alarms/{id}/acknowledge": "answer alarms",
    "POST /api/v1/alarms/{id}/shelve": "answer alarms",
    "POST /api/v1/alarms/{id}/unshelve": "answer alarms",
    "GET /api/v1/alarms/{id}/duty": "see",
    "GET /api/v1/duty": "see",
    "GET /api/v1/measures": "see",
    "GET /api/v1/work": "see",
    "POST /api/v1/work": "record work",
    "POST /api/v1/work/{id}/withdraw": "record work",
    "GET /api/v1/contacts": "see",
    "POST /api/v1/contacts/{id}/test": "keep own account",
    "GET /api/v1/out-of-service": "see",
    "POST /api/v1/out-of-service": "take out of service",
    "POST /api/v1/out-of-service/{id}/end": "take out of service",
    # what looks after the process, and what pages are made of
    "GET /healthz": "open",
    "GET /readyz": "open",
    "GET /metrics": "open",
    "GET /openapi.json": "open",
    "GET /static/{version}/{path}": "open",
    "GET /worker.js": "open",
    # pages
    "GET /": "see",
    "GET /rooms/{id}": "see",
    "GET /rooms/{id}/settled": "see",
    "GET /rooms/{id}/table": "see",
    "GET /rooms/{id}/values": "see",
    "GET /rooms/{id}/values.csv": "see",
    "POST /rooms/{id}/work": "record work",
    "POST /rooms/{id}/out-of-service": "take out of service",
    "POST /rooms/{id}/out-of-service/{period}/end": "take out of service",
    "GET /wall": "see",
    "GET /live": "see",
    "GET /health": "see health",
    "POST /health/quarantine/again": "send readings",
    "POST /health/quarantine/{id}/again": "send readings",
    "GET /alarms": "see",
    "POST /alarms": "answer alarms",
    "GET /alarms/{id}": "see",
    "GET /alarms/{id}/values": "see",
    "GET /alarms/{id}/duty": "see",
    "POST /alarms/{id}/acknowledge": "answer alarms",
    "POST /alarms/{id}/shelve": "answer alarms",
    "POST /alarms/{id}/unshelve": "answer alarms",
    "POST /alarms/{id}/work": "record work",
    "GET /work/{id}": "see",
    "POST /work/{id}/correct": "record work",
    "POST /work/{id}/withdraw": "record work",
    "GET /rota": "see",
    "GET /rota/{secret}.ics": "secret",
    "POST /rota/{slug}/weekly": "change the rota",
    "POST /rota/{slug}/weekly/{id}/end": "change the rota",
    "POST /rota/{slug}/turns": "change the rota",
    "POST /rota/{slug}/turns/{id}/remove": "change the rota",
    "POST /rota/{slug}/steps": "change the rota",
    "POST /rota/{slug}/holidays": "change the rota",
    "POST /rota/{slug}/quiet": "keep own account",
    "POST /rota/{slug}/feeds": "keep own account",
    "POST /rota/{slug}/feeds/{id}/end": "keep own account",  # another's: who may change the rota
    "GET /measures": "see",
    "GET /reports": "see",
    "GET /reports/{id}/{name}": "see",
    "POST /reports": "order reports",
    "POST /reports/subscription": "keep own account",
    "GET /facilities/{slug}/advice": "see",
    "POST /facilities/{slug}/advice": "write advice",
    "GET /undelivered": "see",  # others' calls: who may see undelivered calls
    "POST /undelivered/{id}/again": "keep own account",  # others' calls: who may try calls again
    "GET /a/{token}": "link",
    "POST /a/{token}/mine": "link",
    "POST /a/{token}/shelve": "link",
    "POST /a/{token}/unshelve": "link",
    "POST /a/{token}/work": "link",
    "GET /audit": "administer",
    "GET /audit.csv": "administer",
    # setting up
    "GET /set-up": "see",
    "GET /new-facility": "add facilities",
    "POST /new-facility": "add facilities",
    "GET /set-up/{slug}": "set up",
    "GET /set-up/{slug}/edit": "set up",
    "POST /set-up/{slug}/edit": "set up",
    "GET /set-up/{slug}/remove": "end facilities",
    "POST /set-up/{slug}/remove": "end facilities",
    "GET /set-up/{slug}/add-room": "set up",
    "POST /set-up/{slug}/add-room": "set up",
    "POST /set-up/{slug}/gateways": "set up",
    "POST /set-up/{slug}/gateways/{gateway}/remove": "set up",
    "GET /set-up/{slug}/channels": "set up",
    "GET /set-up/{slug}/channels/{id}": "set up",
    "POST /set-up/{slug}/channels/{id}/attach": "set up",
    "POST /set-up/{slug}/channels/{id}/detach": "set up",
    "GET /set-up/{slug}/fleet-file": "set up",
    "GET /set-up/{slug}/fleet.toml": "set up",
    "GET /set-up/{slug}/rules": "set up",
    "POST /set-up/{slug}/rules": "set up",
    "POST /set-up/{slug}/rules/trials/{id}/end": "set up",
    "GET /set-up/{slug}/rooms/{room}": "set up",
    "GET /set-up/{slug}/rooms/{room}/edit": "set up",
    "POST /set-up/{slug}/rooms/{room}/edit": "set up",
    "GET /set-up/{slug}/rooms/{room}/remove": "set up",
    "POST /set-up/{slug}/rooms/{room}/remove": "set up",
    "GET /set-up/{slug}/rooms/{room}/add/{kind}": "set up",
    "POST /set-up/{slug}/rooms/{room}/add/{kind}": "set up",
    "GET /set-up/{slug}/rooms/{room}/{kind}/{part}": "set up",
    "POST /set-up/{slug}/rooms/{room}/{kind}/{part}": "set up",
    "GET /set-up/{slug}/rooms/{room}/{kind}/{part}/remove": "set up",
    "POST /set-up/{slug}/rooms/{room}/{kind}/{part}/remove": "set up",
    "GET /set-up/{slug}/people": "set up",
    "POST /set-up/{slug}/people": "manage people",
    "POST /set-up/{slug}/people/invitations": "manage people",
    "POST /set-up/{slug}/people/invitations/{id}/end": "manage people",
    "POST /set-up/{slug}/people/{id}/role": "manage people",
    "POST /set-up/{slug}/people/{id}/remove": "manage people",
    "POST /set-up/{slug}/people/{id}/mail": "name addresses to call",
    "POST /set-up/{slug}/people/{id}/password": "manage people",
    # a person's own
    "GET /sign-in": "open",
    "POST /sign-in": "open",
    "GET /sign-in/openid": "open",
    "GET /sign-in/openid/back": "open",
    "GET /password/{token}": "secret",
    "POST /password/{token}": "secret",
    "POST /sign-out": "keep own account",
    "GET /invitations/{secret}": "keep own account",
    "POST /invitations/{secret}/accept": "keep own account",
    "GET /me": "see",
    "POST /me/password": "keep own account",
    "POST /me/reading": "keep own account",
    "POST /me/tokens": "keep own account",
    "POST /me/tokens/{id}/revoke": "keep own account",
    "POST /me/sessions/end": "keep own account",
    "POST /me/sessions/{id}/end": "keep own account",
    "POST /me/contacts": "keep own account",  # webhooks and services: who may name addresses to call
    "POST /me/contacts/{id}/test": "keep own account",
    "POST /me/contacts/{id}/up": "keep own account",
    "POST /me/contacts/{id}/remove": "keep own account",
    "POST /me/devices": "keep own account",
    "POST /devices/renewed": "secret",
}
