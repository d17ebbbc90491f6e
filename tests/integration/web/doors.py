"""One good request for every address of the application: what somebody asks who may, about things of Birchwood.

Each call of `knocks` makes its things anew, so that any of its requests goes well whatever others did before. Not here:
who may send which (`wickwatch.web.permits`), or what comes of it (the tests).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from itertools import count
from typing import Any
from uuid import UUID, uuid4

from tests.builders import events, place
from tests.builders.scene import PASSWORD
from tests.integration.web.conftest import NOW, Site
from tests.integration.web.doors_set_up import set_up_knocks
from tests.integration.web.knock import Knock
from tests.parts.push import Device
from tests.parts.web import SECRET_KEY
from wickwatch.notify.links import LASTS, Link, sign
from wickwatch.store import (
    access,
    contacts,
    people,
    quarantine,
    reports,
    rota,
    rota_feed,
    rota_plan,
    service,
    tokens,
    work,
)
from wickwatch.store.quarantine import Quarantined
from wickwatch.store.reports import NewReport
from wickwatch.web import own_password
from wickwatch.web.permits import DOORS

_NUMBER = count(1)
_COUNTRIES = ("NO", "SE", "DK", "FI", "DE")


@dataclass(frozen=True)
class Things:
    """What the requests are about: `own` is the person's by kind, the rest stands in Birchwood."""

    room: UUID
    channel: int
    pot: UUID
    alarms: list[UUID]
    entries: list[UUID]
    periods: list[UUID]
    patterns: list[UUID]
    turn: UUID
    feed: UUID
    secret: str
    report: UUID
    letter: UUID
    refused: int
    link: str
    chosen: str
    renewed: Mapping[str, str]
    own: Mapping[str, UUID]
    day: date


def knocks(site: Site, name: str) -> dict[str, Knock]:
    """By address, as `DOORS` writes it, a request that is fine for a person of this name who may send it."""
    made = _things(site, name)
    number = next(_NUMBER)
    alarm = iter(made.alarms)
    entry = iter(made.entries)
    period = iter(made.periods)
    here = f"/rooms/{made.room}"
    done = {"kind": "checked", "subject": f"room:{made.room}"}
    pack = [{"bn": "urn:dev:mac:0024befffe804ff1:", "n": "tension", "u": "hPa", "v": 100}]
    senml = {"Content-Type": "application/senml+json"}
    pot = {"type": "container", "id": str(made.pot)}
    found = {
        "GET /api/v1/rooms": Knock("?facility=birchwood"),
        "GET /api/v1/rooms/{id}": Knock(f"{made.room}"),
        "GET /api/v1/rooms/{id}/settled": Knock(f"{made.room}"),
        "GET /api/v1/channels": Knock("?facility=birchwood"),
        "PUT /api/v1/channels/{id}/assignment": Knock(f"{made.channel}", json={}),
        "GET /api/v1/readings": Knock(f"?channel={made.channel}"),
        "POST /api/v1/readings": Knock("?facility=birchwood&gateway=gw-09", json=pack, headers=senml),
        "GET /api/v1/alarms": Knock("?facility=birchwood"),
        "GET /api/v1/alarms/{id}": Knock(f"{made.alarms[0]}"),
        "POST /api/v1/alarms/{id}/acknowledge": Knock(f"{next(alarm)}"),
        "POST /api/v1/alarms/{id}/shelve": Knock(f"{next(alarm)}"),
        "POST /api/v1/alarms/{id}/unshelve": Knock(f"{made.own['shelved']}"),
        "GET /api/v1/alarms/{id}/duty": Knock(f"{made.alarms[0]}"),
        "GET /api/v1/duty": Knock("?facility=birchwood"),
        "GET /api/v1/measures": Knock("?facility=birchwood"),
        "GET /api/v1/work": Knock("?facility=birchwood"),
        "POST /api/v1/work": Knock("", json={"kind": "checked", "subject": pot}),
        "POST /api/v1/work/{id}/withdraw": Knock(f"{next(entry)}"),
        "GET /api/v1/contacts": Knock(""),
        "POST /api/v1/contacts/{id}/test": Knock(f"{made.own['contact']}"),
        "GET /api/v1/out-of-service": Knock("?facility=birchwood"),
        "POST /api/v1/out-of-service": Knock("", json={"subject": pot, "for_s": 3600}),
        "POST /api/v1/out-of-service/{id}/end": Knock(f"{next(period)}"),
        "GET /healthz": Knock(""),
        "GET /readyz": Knock(""),
        "GET /metrics": Knock(""),
        "GET /openapi.json": Knock(""),
        "GET /static/{version}/{path}": Knock("/static/x/wickwatch.css"),
        "GET /worker.js": Knock(""),
        "GET /": Knock("?facility=birchwood"),
        "GET /rooms/{id}": Knock(here),
        "GET /rooms/{id}/settled": Knock(f"{here}/settled"),
        "GET /rooms/{id}/table": Knock(f"{here}/table"),
        "GET /rooms/{id}/values": Knock(f"{here}/values"),
        "POST /rooms/{id}/work": Knock(f"{here}/work", done),
        "POST /rooms/{id}/out-of-service": Knock(f"{here}/out-of-service", {"part": f"container:{made.pot}"}),
        "POST /rooms/{id}/out-of-service/{period}/end": Knock(f"{here}/out-of-service/{next(period)}/end", {}),
        "GET /rooms/{id}/values.csv": Knock(f"{here}/values.csv"),
        "GET /wall": Knock(""),
        "GET /live": Knock(""),
        "GET /health": Knock(""),
        "POST /health/quarantine/again": Knock("/health/quarantine/again", {"reason": "quantity"}),
        "POST /health/quarantine/{id}/again": Knock(f"/health/quarantine/{made.refused}/again", {}),
        "GET /alarms": Knock(""),
        "POST /alarms": Knock("", {"alarm": str(next(alarm))}),
        "GET /alarms/{id}/values": Knock(f"/alarms/{made.alarms[0]}/values"),
        "GET /alarms/{id}": Knock(f"{made.alarms[0]}"),
        "GET /alarms/{id}/duty": Knock(f"{made.alarms[0]}"),
        "POST /alarms/{id}/acknowledge": Knock(f"{next(alarm)}", {}),
        "POST /alarms/{id}/shelve": Knock(f"{next(alarm)}", {}),
        "POST /alarms/{id}/unshelve": Knock(f"{made.own['shelved too']}", {}),
        "POST /alarms/{id}/work": Knock(f"{next(alarm)}", done),
        "GET /work/{id}": Knock(f"{made.entries[0]}"),
        "POST /work/{id}/correct": Knock(f"{next(entry)}", done),
        "POST /work/{id}/withdraw": Knock(f"{next(entry)}", {}),
        "GET /rota": Knock("?facility=birchwood"),
        "GET /rota/{secret}.ics": Knock(f"/rota/{made.secret}.ics"),
        "POST /rota/{slug}/weekly": Knock(
            "/rota/birchwood/weekly",
            {"step": 7, "person": str(site.scene.people["mara"]), "starts_on": f"{made.day}", "hand_over": "08:00"},
        ),
        "POST /rota/{slug}/weekly/{id}/end": Knock(f"/rota/birchwood/weekly/{made.patterns[0]}/end", {}),
        "POST /rota/{slug}/turns": Knock(
            "/rota/birchwood/turns",
            {
                "step": 4,
                "person": str(site.scene.people["mara"]),
                "start": f"{made.day}T08:00",
                "end": f"{made.day}T18:00",
            },
        ),
        "POST /rota/{slug}/turns/{id}/remove": Knock(f"/rota/birchwood/turns/{made.turn}/remove", {}),
        "POST /rota/{slug}/steps": Knock("/rota/birchwood/steps", {"minutes": 10 + number}),
        "POST /rota/{slug}/holidays": Knock("/rota/birchwood/holidays", {"country": _COUNTRIES[number // 2 % 5]}),
        "POST /rota/{slug}/quiet": Knock("/rota/birchwood/quiet", {"starts": "22:00", "ends": "06:00"}),
        "POST /rota/{slug}/feeds": Knock("/rota/birchwood/feeds", {}),
        "POST /rota/{slug}/feeds/{id}/end": Knock(f"/rota/birchwood/feeds/{made.feed}/end", {}),
        "GET /measures": Knock("?facility=birchwood"),
        "GET /reports": Knock("?facility=birchwood"),
        "GET /reports/{id}/{name}": Knock(f"/reports/{made.report}/week.html"),
        "POST /reports": Knock("", {"facility": "birchwood", "week": f"2025-W{number % 50 + 1:02d}"}),
        "POST /reports/subscription": Knock("", {"facility": "birchwood", "wanted": "true"}),
        "GET /facilities/{slug}/advice": Knock("/facilities/birchwood/advice"),
        "POST /facilities/{slug}/advice": Knock(
            "/facilities/birchwood/advice", {"kind": "reservoir-empty", "text": f"Cans stand outside, {number}."}
        ),
        "GET /undelivered": Knock(""),
        "POST /undelivered/{id}/again": Knock(f"{made.letter}", {}),
        "GET /a/{token}": Knock(made.link),
        "POST /a/{token}/mine": Knock(f"{made.link}/mine", {}),
        "POST /a/{token}/shelve": Knock(f"{made.link}/shelve", {}),
        "POST /a/{token}/unshelve": Knock(f"{made.link}/unshelve", {}),
        "POST /a/{token}/work": Knock(f"{made.link}/work", {"kind": f"re-set-emitter:container:{made.own['pot']}"}),
        "GET /audit": Knock(""),
        "GET /audit.csv": Knock(""),
        "GET /password/{token}": Knock(made.chosen),
        "POST /password/{token}": Knock(made.chosen, {"wanted": PASSWORD}, ends=True),
        "GET /sign-in": Knock(""),
        "GET /sign-in/openid": Knock(""),
        "GET /sign-in/openid/back": Knock(""),
        "POST /sign-in": Knock("", {"name": name, "password": PASSWORD}),
        "POST /sign-out": Knock("", {}, ends=True),
        "GET /me": Knock(""),
        "POST /me/password": Knock("", {"former": PASSWORD, "wanted": PASSWORD}),
        "POST /me/reading": Knock("", {"tension_unit": ("kPa", "cbar", "mbar")[number % 3]}),
        "POST /me/tokens": Knock("", {"label": "a script"}),
        "POST /me/tokens/{id}/revoke": Knock(f"{made.own['token']}", {}),
        "POST /me/sessions/end": Knock("", {}, ends=True),
        "POST /me/sessions/{id}/end": Knock(f"{made.own['session']}", {}),
        "POST /me/contacts": Knock("", {"way": "email", "address": f"n{number}@example.org"}),
        "POST /me/contacts/{id}/test": Knock(f"{made.own['contact too']}", {}),
        "POST /me/contacts/{id}/up": Knock(f"{made.own['contact too']}", {}),
        "POST /me/contacts/{id}/remove": Knock(f"{made.own['contact gone']}", {}),
        "POST /me/devices": Knock("", _browser(number)),
        "POST /devices/renewed": Knock("", json=made.renewed),
    }
    found |= set_up_knocks(site, number)
    return {door: _whole(door, knock) for door, knock in found.items()}


def _whole(door: str, knock: Knock) -> Knock:
    """With its path spelt out: what is given is the query, or what stands in place of the template's one name."""
    template = door.partition(" ")[2]
    if knock.path.startswith("/"):
        return knock
    if "{" in template:
        head, _, rest = template.partition("{")
        path = head + knock.path + rest.partition("}")[2]
    else:
        path = template + knock.path
    return Knock(path, knock.form, knock.json, knock.headers, knock.ends)


def _browser(number: int) -> dict[str, str]:
    device = Device()
    return {"address": f"https://push.example.org/{number}", "key": device.key_text, "auth": device.auth_text}


def _renewed(conn: Any, person: UUID, number: int) -> dict[str, str]:
    """What a device tells whose subscription has changed."""
    device, former = Device(), f"https://push.example.org/former/{number}"
    contacts.add_browser(conn, person, former, device.key_text, device.auth_text, "", NOW)
    fresh = {"address": f"https://push.example.org/fresh/{number}", "p256dh": device.key_text, "auth": device.auth_text}
    return {"former": former, "secret": device.auth_text, **fresh}


def _things(site: Site, name: str) -> Things:
    room, birchwood = site.scene.rooms["room-03"], site.scene.birchwood
    mara = site.scene.people["mara"]
    number = next(_NUMBER)
    day = NOW.date() + timedelta(days=10 + number)
    with site.connect() as conn:
        person = people.person_named(conn, name)
        row = conn.execute(
            "SELECT a.channel_id, a.container_id FROM assignment a JOIN container c ON c.id = a.container_id"
            " WHERE c.room_id = %s AND upper_inf(a.during) ORDER BY c.slug LIMIT 1",
            (room,),
        ).fetchone()
        assert row is not None
        channel, pot = row

        def alarm(state: str = "unacknowledged", subject_id: UUID | None = None) -> UUID:
            subject = ("container", subject_id or uuid4(), "Pot 99")
            return events.alarm(conn, birchwood, room, subject, NOW - timedelta(hours=1), state=state)

        def entry() -> UUID:
            at = NOW - timedelta(hours=2)
            kept = work.add(conn, [birchwood], kind="checked", subject_type="container", subject_id=pot, at=at, now=NOW)
            return kept.id

        def period() -> UUID:
            until = NOW + timedelta(hours=8)
            return service.add(
                conn, [birchwood], type="container", part=str(pot), until=until, now=NOW, person_id=mara
            ).period.id

        def reach(what: str) -> UUID:
            return contacts.add(conn, person, "email", f"{what}{number}@example.org")

        secret = rota_feed.add(conn, birchwood, None, person, NOW)
        feeds = [each for each in rota_feed.of_facility(conn, birchwood) if each.made_by == person]
        token = tokens.new_token(conn, name, "a script")
        access.open_session(conn, person, "192.0.2.1", site.now, None)
        first = reach("a")
        alone = place.container(conn, room, f"pot-{90 + number}", None)
        own = {
            "pot": alone,
            "shelved": alarm("shelved"),
            "shelved too": alarm("shelved"),
            "contact": first,
            "contact too": reach("b"),
            "contact gone": reach("c"),
            "token": next(each.id for each in tokens.tokens(conn, person)),
            "session": next(
                each.id for each in access.sessions(conn, person, None, site.now) if each.address == "192.0.2.1"
            ),
        }
        assert token
        until = NOW + LASTS
        # Turns of a year to come each: at one step no two hold at once.
        starts = date(2030 + number, 1, 7)
        pattern = rota_plan.add_pattern(conn, birchwood, 6, [mara], starts, time(8))
        begin = datetime(2030 + number, 3, 1, tzinfo=NOW.tzinfo)
        rota.add_turn(conn, birchwood, 5, mara, begin, begin + timedelta(hours=8))
        turn = conn.execute("SELECT id FROM rota_turn WHERE lower(during) = %s", (begin,)).fetchone()
        assert turn is not None
        return Things(
            room,
            channel,
            pot,
            [alarm() for _ in range(7)],
            [entry() for _ in range(4)],
            [period() for _ in range(2)],
            [pattern],
            turn[0],
            max(feeds, key=lambda each: each.created_at).id,
            secret,
            _report(conn, birchwood),
            _letter(conn, birchwood, person, first, alarm()),
            _refused(conn, birchwood, number),
            f"/a/{sign(SECRET_KEY, Link(person, alarm(subject_id=alone), until))}",
            f"/password/{own_password.token(conn, SECRET_KEY, person, site.now)}",
            _renewed(conn, person, number),
            own,
            day,
        )


def _report(conn: Any, facility: UUID) -> UUID:
    ends = NOW - timedelta(days=2)
    whole = {"in_band_percent": 91.0, "water_l": 1234.5, "alarms": 1, "complete_percent": 99.0}
    figures = {"facility": whole, "rooms": {}, "reached": None}
    new = NewReport(facility, "2026-W47", NOW - timedelta(days=9), ends, NOW - timedelta(days=1), ends, figures)
    return reports.save(
        conn,
        new,
        [("week.html", "text/html; charset=utf-8", b"<!doctype html><style>p { margin: 0 }</style><p>R3 east")],
    )


def _letter(conn: Any, facility: UUID, person: UUID, contact: UUID, alarm: UUID) -> UUID:
    row = conn.execute(
        "INSERT INTO notice (key, facility_id, alarm_id, person_id, contact_id, way, address, title, body, payload,"
        " created_at, due_at, expires_at, tries, state, done_at)"
        " VALUES (%(key)s, %(site)s, %(alarm)s, %(who)s, %(contact)s, 'email', 'a@example.org', 'Now: dry', 'x', '{}',"
        " %(now)s, %(now)s, %(now)s, 2, 'dead', %(now)s) RETURNING id",
        {"key": f"k:{alarm}", "site": facility, "alarm": alarm, "who": person, "contact": contact, "now": NOW},
    ).fetchone()
    assert row is not None
    id: UUID = row[0]
    return id


def _refused(conn: Any, facility: UUID, number: int) -> int:
    """Two packs with a quantity nobody keeps; the id of one."""
    for gateway in ("gw-01", "gw-02"):
        topic = f"wickwatch/1/birchwood/{gateway}/senml"
        pack = b'[{"n": "urn:dev:mac:0024befffe804ff1:colour", "v": %d}]' % number
        quarantine.add(conn, [Quarantined(NOW, facility, topic, pack, "quantity", "", 1)])
    row = conn.execute("SELECT max(id) FROM quarantine").fetchone()
    assert row is not None
    return int(row[0])


def writes(door: str) -> bool:
    """Whether an address is there to change something."""
    return not door.startswith("GET ")


#: What ends or replaces the session of whoever does it.
_LAST = (
    "POST /invitations/{secret}/accept",
    "POST /password/{token}",  # before what replaces the password by which its link is known
    "POST /me/password",
    "POST /sign-in",
    "POST /sign-out",
    "POST /me/sessions/end",
)

#: In the order in which one person can knock at all.
ORDER = sorted(DOORS, key=lambda door: _LAST.index(door) + 1 if door in _LAST else 0)
