"""Every address of the application against every role, at home and next door; nothing else has a list of its own."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, cast

import httpx
import pytest
from fastapi.routing import iter_route_contexts

from tests.builders.scene import hashed_password
from tests.integration.web.conftest import Site, opened
from tests.integration.web.doors import ORDER, knocks, writes
from tests.integration.web.doors_set_up import APART
from tests.integration.web.knock import Knock
from wickwatch.settings import Settings
from wickwatch.store import people, tokens
from wickwatch.store.access import SCOPES, Scope
from wickwatch.store.people import ROLES, Role
from wickwatch.web.app import create_app
from wickwatch.web.permits import DOORS, PERMITS, Deed, within

#: Words and ids that are Birchwood's alone.
OF_BIRCHWOOD = ("birchwood", "r3 east", "pot 99")


@pytest.fixture(scope="module")
def house(plain_server: str) -> Iterator[Site]:
    """One site for all: each person and each request has things of its own."""
    with opened(plain_server) as site:
        yield site


@dataclass
class Visitor:
    """Somebody with a role in one facility, signed in, who knocks at doors."""

    site: Site
    name: str
    client: httpx.Client
    token: str = ""
    cookie: str = ""

    def knock(self, door: str, knock: Knock, *, with_token: bool = True) -> httpx.Response:
        """Send one request as a page's form or a program would."""
        method = door.partition(" ")[0]
        fields = dict(knock.form or {})
        if knock.form is not None and with_token:
            fields["form_token"] = self._form_token(knock.path)
        data: dict[str, Any] = {"json": knock.json} if knock.json is not None else {"data": fields} if fields else {}
        headers = dict(knock.headers) | ({} if "/api/" in door else {"Accept": "text/html"})
        with self.client.stream(method, knock.path, headers=headers, **data) as answer:
            if answer.headers.get("content-type", "").startswith("text/event-stream"):
                return httpx.Response(answer.status_code, headers=answer.headers, text=next(answer.iter_text()))
            answer.read()
        return answer

    def _form_token(self, path: str) -> str:
        if path.startswith(("/a/", "/password/")):
            return _token_in(self.client.get("/".join(path.split("/")[:3])).text)
        cookie = self.client.cookies.get("wickwatch_session") or ""
        if cookie != self.cookie:
            self.cookie, self.token = cookie, _token_in(self.client.get("/me", headers={"Accept": "text/html"}).text)
        return self.token


def _token_in(page: str) -> str:
    return page.partition('name="form_token" value="')[2].partition('"')[0]


def visitor(site: Site, name: str, role: str, facility: str = "birchwood") -> Visitor:
    """A new person of this name."""
    with site.connect() as conn:
        people.add_person(conn, name, role, [facility], None)
        conn.execute("UPDATE person SET password_hash = %s WHERE name = %s", (hashed_password(), name))
    return Visitor(site, name, site.browser(name))


def may(role: str, least: Role | None) -> bool:
    return least is None or ROLES.index(cast(Role, role)) >= ROLES.index(least)


def guarded(answer: httpx.Response) -> None:
    """The headers of every answer: nothing inline, nothing from elsewhere, in nobody's frame, nothing guessed."""
    policy = dict(part.strip().partition(" ")[::2] for part in answer.headers["content-security-policy"].split(";"))
    assert policy["default-src"] == "'none'"
    assert policy["frame-ancestors"] == "'none'"
    assert policy["base-uri"] == "'none'"
    assert policy["form-action"] in ("'self'", "'none'")
    assert "unsafe" not in str(policy)
    assert "//" not in str(policy)
    assert answer.headers["x-content-type-options"] == "nosniff"
    assert answer.headers["referrer-policy"] in ("same-origin", "no-referrer")
    assert answer.headers["cross-origin-opener-policy"] == "same-origin"
    assert "camera=()" in answer.headers["permissions-policy"]
    assert "strict-transport-security" not in answer.headers  # this site is not reached over TLS
    for cookie in answer.headers.get_list("set-cookie"):
        assert "httponly" in cookie.lower()
        assert "samesite" in cookie.lower()


def noted(site: Site, who: str = "") -> list[tuple[str, str, str]]:
    """Entries of the audit log, of one person or all: who, by which way, what was asked for."""
    with site.connect() as conn:
        return conn.execute(
            # Their times are of the site's clock, which stands: what was written first tells what came first.
            "SELECT who, via, action FROM audit_entry e WHERE %(who)s IN ('', who)"
            " ORDER BY (SELECT min(c.id) FROM audit_change c WHERE c.entry_id = e.id)",
            {"who": who},
        ).fetchall()


def test_every_address_of_the_application_is_in_the_table_and_has_a_good_request(house: Site) -> None:
    """A new address: its line in `web/permits.py`, and a request that goes well in `doors.py`."""
    app = create_app(Settings(secret_key="x" * 32), cast(Any, None))
    routes = list(iter_route_contexts(app.routes))
    assert len({route.endpoint for route in routes}) == len(routes), "a function has one address: the table goes by it"
    there = {f"{method} {route.path_format}" for route in routes for method in route.methods or () if method != "HEAD"}
    assert there == set(DOORS)
    assert set(knocks(house, "Mara")) == set(DOORS)


@pytest.mark.parametrize("role", ROLES)
def test_at_home_a_role_does_what_the_table_says_and_each_change_is_noted_once(house: Site, role: str) -> None:
    person = visitor(house, f"{role} at home", role)
    asked = knocks(house, person.name)
    changed: list[tuple[str, str, str]] = []
    for door in ORDER:
        if door in APART or door.startswith("GET /sign-in/openid"):  # without a provider there is nothing behind it
            continue
        knock, stands_for = asked[door], DOORS[door]
        answer = person.knock(door, knock)
        if stands_for == "link":
            fine = may(role, "grower") or not writes(door)
        else:
            fine = stands_for in ("open", "secret") or may(role, PERMITS[cast(Deed, stands_for)].role)
        if not fine:
            assert answer.status_code == 403, (door, answer.status_code)
        else:
            assert answer.status_code < 400, (door, answer.status_code, answer.text[-400:])
        guarded(answer)
        if fine and writes(door):
            via = "link" if stands_for == "link" else "api" if "/api/" in door else "page"
            changed.append((person.name, via, door))
        if knock.ends:
            person = Visitor(house, person.name, house.browser(person.name))
    assert sorted(noted(house, person.name)) == sorted(changed)


def test_a_facility_is_added_and_ended_by_whoever_administers_all_and_each_is_noted_once(house: Site) -> None:
    root = Visitor(house, "Root", house.browser("Root"))
    asked = knocks(house, "Mara")
    before = len(noted(house, "Root"))
    assert root.knock("GET /new-facility", asked["GET /new-facility"]).status_code == 200
    made = root.knock("POST /new-facility", asked["POST /new-facility"])
    ended = root.knock("POST /set-up/{slug}/remove", Knock(f"{made.headers['location']}/remove", {}))
    assert (made.status_code, ended.status_code) == (303, 303)
    assert [action for _, _, action in noted(house, "Root")[before:]] == [
        "POST /new-facility",
        "POST /set-up/{slug}/remove",
    ]
    one = visitor(house, "Administrator of one", "administrator")
    assert one.knock("GET /new-facility", asked["GET /new-facility"]).status_code == 403
    assert one.knock("POST /new-facility", asked["POST /new-facility"]).status_code == 403


@pytest.mark.parametrize("role", ROLES)
def test_next_door_a_role_opens_nothing_sees_nothing_and_changes_nothing(house: Site, role: str) -> None:
    neighbour = visitor(house, f"{role} next door", role, "saltmarsh")
    asked = knocks(house, "Mara")
    theirs = {str(id) for id in (*house.scene.alarms.values(), *(house.scene.rooms[f"room-0{n}"] for n in range(1, 9)))}
    for door in ORDER:
        if DOORS[door] in ("open", "link", "secret") or asked[door].ends:
            continue
        answer = neighbour.knock(door, asked[door])
        assert answer.status_code < 500, door
        if answer.status_code < 300 and "Tokens for programs" not in answer.text:
            seen = answer.text.lower()
            assert not [word for word in (*OF_BIRCHWOOD, *theirs) if word in seen], door
        elif answer.status_code >= 300 and writes(door):
            assert answer.status_code in (303, 403, 404, 409, 422), (door, answer.status_code)
    with house.connect() as conn:
        crossed = conn.execute(
            "SELECT e.action, c.thing, c.new FROM audit_entry e JOIN audit_change c ON c.entry_id = e.id"
            " WHERE e.who = %s AND (c.facility_id = %s OR c.new->>'person_id' = %s OR c.old->>'person_id' = %s)",
            (neighbour.name, house.scene.birchwood, *[str(house.scene.people["mara"])] * 2),
        ).fetchall()
    assert crossed == []


@pytest.mark.parametrize("role", ROLES)
def test_a_link_opens_nothing_once_its_person_has_no_role_in_the_alarms_facility(house: Site, role: str) -> None:
    person = visitor(house, f"{role} who moves", role)
    link = knocks(house, person.name)["GET /a/{token}"].path
    assert house.visitor().get(link).status_code == 200
    with house.connect() as conn:
        conn.execute(
            "UPDATE membership SET facility_id = %s WHERE person_id = (SELECT id FROM person WHERE name = %s)",
            (house.scene.saltmarsh, person.name),
        )
    answers = [house.visitor().get(link), house.visitor().post(f"{link}/mine", data={"form_token": "00" * 64})]
    assert [answer.status_code for answer in answers] == [404, 404]
    assert not [word for word in OF_BIRCHWOOD if word in answers[0].text.lower()]


def test_nobody_gets_in_without_a_sign_in(house: Site) -> None:
    stranger = house.visitor()
    before = len(noted(house))
    for door, knock in knocks(house, "Mara").items():
        if DOORS[door] in ("open", "link", "secret"):
            continue
        method = door.partition(" ")[0]
        body = {"json": knock.json} if knock.json is not None else {"data": dict(knock.form or {"x": ""})}
        answer = stranger.request(method, knock.path, headers=dict(knock.headers), **({} if method == "GET" else body))
        wanted = 303 if method == "GET" and "/api/" not in door else 401
        assert answer.status_code == wanted, (door, answer.status_code)
        if wanted == 303:
            assert answer.headers["location"].startswith("/sign-in")
    assert len(noted(house)) == before


def test_no_form_is_taken_without_the_token_of_its_page(house: Site) -> None:
    person = visitor(house, "Without a token", "administrator")
    before = len(noted(house))
    asked = knocks(house, person.name)
    forms = [door for door in ORDER if asked[door].form is not None and door != "POST /sign-in"]
    assert len(forms) > 30
    with house.connect() as conn:
        token = tokens.new_token(conn, person.name, "a program")
    program = Visitor(house, person.name, house.visitor(Authorization=f"Bearer {token}"))
    for door in forms:
        assert person.knock(door, asked[door], with_token=False).status_code == 403, door
        if DOORS[door] != "link":
            assert program.knock(door, asked[door], with_token=False).status_code == 403, door
    assert len(noted(house)) == before


@pytest.mark.parametrize("scope", SCOPES)
def test_a_token_does_what_its_scope_is_for(house: Site, scope: Scope) -> None:
    person = visitor(house, f"With a token to {scope}", "administrator")
    asked = knocks(house, person.name)
    with house.connect() as conn:
        secret = tokens.new_token(conn, person.name, "a program", None, scope)
    program = Visitor(house, person.name, house.visitor(Authorization=f"Bearer {secret}"))
    for door in ORDER:
        if "/api/" in door or door == "GET /audit.csv":
            fine = within(scope, cast(Deed, DOORS[door]))
            answer = program.knock(door, asked[door])
            assert answer.status_code < 300 if fine else answer.status_code == 403, (door, answer.status_code)
