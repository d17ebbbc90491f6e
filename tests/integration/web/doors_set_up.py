"""Good requests for the set-up pages: each call has a room of its own with one of everything, and one to be removed."""

from __future__ import annotations

from datetime import timedelta
from uuid import UUID

from tests.builders import place
from tests.integration.web.conftest import NOW, Site
from tests.integration.web.knock import Knock
from wickwatch.store import invitations, people

#: What only whoever administers all facilities does, or what takes a whole one away; it has a test of its own.
APART = ("GET /new-facility", "POST /new-facility", "POST /set-up/{slug}/remove")


def set_up_knocks(site: Site, number: int) -> dict[str, Knock]:
    """By address a request that is fine for somebody who may set Birchwood up; `number` is another each time."""
    spare, gone = f"spare-{number}", f"gone-{number}"
    with site.connect() as conn:
        birchwood = site.scene.birchwood
        room = place.room(conn, birchwood, spare)
        pot = place.container(conn, room, "pot-01", place.line(conn, room, place.reservoir(conn, room)))
        place.container(conn, room, "pot-02")
        place.room(conn, birchwood, gone)
        place.gateway(conn, birchwood, gone)
        free, taken = place.channel(conn, birchwood), place.channel(conn, birchwood)
        place.attach(conn, taken, "container", place.container(conn, room, "pot-03"), NOW - timedelta(days=1))
        other = people.add_person(conn, f"Somebody {number}", "viewer", ["birchwood"], None)
        leaver = people.add_person(conn, f"Leaver {number}", "viewer", ["birchwood"], None)
        root = site.scene.people["root"]
        invitations.add(conn, birchwood, "viewer", f"Nobody {number}", root, NOW)
        invited = invitations.of_facility(conn, birchwood, NOW)[0].id
        # To where whoever is at home in Birchwood has no role yet.
        secret = invitations.add(conn, site.scene.saltmarsh, "viewer", f"Somebody {number}", root, NOW)
        # One at a time may be under way in a facility.
        conn.execute("UPDATE rule_trial SET done_at = %s, failure = 'over' WHERE done_at IS NULL", (NOW,))
        trial = conn.execute(
            "INSERT INTO rule_trial (facility_id, room_id, kind, subject_id, rules, starts_at, ends_at, ordered_at,"
            " told_at) VALUES (%s, %s, 'room', %s, '{}', %s, %s, %s, %s) RETURNING id",
            (birchwood, room, room, NOW - timedelta(days=1), NOW, NOW, NOW),
        ).fetchone()
    assert trial is not None
    return _knocks(number, spare, gone, pot, free, taken, trial[0]) | _people(number, other, leaver, secret, invited)


def _knocks(number: int, spare: str, gone: str, pot: UUID, free: int, taken: int, trial: UUID) -> dict[str, Knock]:
    here = "/set-up/birchwood"
    room = f"{here}/rooms/{spare}"
    light = {"lights_on": "05:00", "lights_off": "19:00"}
    return {
        "GET /set-up": Knock(""),
        "GET /new-facility": Knock(""),
        "POST /new-facility": Knock("", {"name": f"New {number}", "zone": "Europe/Oslo"}),
        "GET /set-up/{slug}": Knock(here),
        "GET /set-up/{slug}/edit": Knock(f"{here}/edit"),
        "POST /set-up/{slug}/edit": Knock(f"{here}/edit", {"name": f"Birchwood {number}", "zone": "Europe/Oslo"}),
        "GET /set-up/{slug}/remove": Knock(f"{here}/remove"),
        "POST /set-up/{slug}/remove": Knock(f"{here}/remove", {}),
        "GET /set-up/{slug}/add-room": Knock(f"{here}/add-room"),
        "POST /set-up/{slug}/add-room": Knock(f"{here}/add-room", {"name": f"Room of {number}", **light}),
        "POST /set-up/{slug}/gateways": Knock(f"{here}/gateways", {"gateway": f"gw-of-{number}"}),
        "POST /set-up/{slug}/gateways/{gateway}/remove": Knock(f"{here}/gateways/{gone}/remove", {}),
        "GET /set-up/{slug}/channels": Knock(f"{here}/channels"),
        "GET /set-up/{slug}/channels/{id}": Knock(f"{here}/channels/{free}"),
        "POST /set-up/{slug}/channels/{id}/attach": Knock(f"{here}/channels/{free}/attach", {"to": f"container:{pot}"}),
        "POST /set-up/{slug}/channels/{id}/detach": Knock(f"{here}/channels/{taken}/detach", {}),
        "GET /set-up/{slug}/fleet-file": Knock(f"{here}/fleet-file"),
        "GET /set-up/{slug}/fleet.toml": Knock(f"{here}/fleet.toml"),
        "GET /set-up/{slug}/rules": Knock(f"{here}/rules?room={spare}"),
        "POST /set-up/{slug}/rules": Knock(f"{here}/rules?room={spare}", {"dry_limit_mbar": f"{150 + number % 50}"}),
        "POST /set-up/{slug}/rules/trials/{id}/end": Knock(f"{here}/rules/trials/{trial}/end", {}),
        "GET /set-up/{slug}/rooms/{room}": Knock(room),
        "GET /set-up/{slug}/rooms/{room}/edit": Knock(f"{room}/edit"),
        "POST /set-up/{slug}/rooms/{room}/edit": Knock(f"{room}/edit", {"name": f"Spare {number}", **light}),
        "GET /set-up/{slug}/rooms/{room}/remove": Knock(f"{room}/remove"),
        "POST /set-up/{slug}/rooms/{room}/remove": Knock(f"{here}/rooms/{gone}/remove", {}),
        "GET /set-up/{slug}/rooms/{room}/add/{kind}": Knock(f"{room}/add/container"),
        "POST /set-up/{slug}/rooms/{room}/add/{kind}": Knock(f"{room}/add/container", {"name": "Pot of its own"}),
        "GET /set-up/{slug}/rooms/{room}/{kind}/{part}": Knock(f"{room}/container/pot-01"),
        "POST /set-up/{slug}/rooms/{room}/{kind}/{part}": Knock(
            f"{room}/container/pot-01", {"name": "Pot renamed", "line": "loop", "volume_l": "21", "stands_for": "1"}
        ),
        "GET /set-up/{slug}/rooms/{room}/{kind}/{part}/remove": Knock(f"{room}/container/pot-02/remove"),
        "POST /set-up/{slug}/rooms/{room}/{kind}/{part}/remove": Knock(f"{room}/container/pot-02/remove", {}),
    }


def _people(number: int, other: UUID, leaver: UUID, secret: str, invited: UUID) -> dict[str, Knock]:
    here = "/set-up/birchwood/people"
    return {
        "GET /set-up/{slug}/people": Knock(here),
        "POST /set-up/{slug}/people": Knock(here, {"name": f"New one {number}", "role": "viewer"}),
        "POST /set-up/{slug}/people/invitations": Knock(f"{here}/invitations", {"label": "Ida", "role": "viewer"}),
        "POST /set-up/{slug}/people/invitations/{id}/end": Knock(f"{here}/invitations/{invited}/end", {}),
        "GET /invitations/{secret}": Knock(f"/invitations/{secret}"),
        "POST /invitations/{secret}/accept": Knock(f"/invitations/{secret}/accept", {}),
        "POST /set-up/{slug}/people/{id}/role": Knock(f"{here}/{other}/role", {"role": "grower"}),
        "POST /set-up/{slug}/people/{id}/remove": Knock(f"{here}/{leaver}/remove", {}),
        "POST /set-up/{slug}/people/{id}/mail": Knock(f"{here}/{other}/mail", {"address": "other@example.org"}),
        "POST /set-up/{slug}/people/{id}/password": Knock(f"{here}/{other}/password", {}),
    }
