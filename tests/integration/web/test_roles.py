"""Who may do what: each role on each call, and nothing across facilities."""

from __future__ import annotations

import re

import httpx
import pytest

from tests.integration.web.conftest import Site
from wickwatch.store import people

ROLES = people.ROLES


def _calls(site: Site) -> dict[str, tuple[str, httpx.Request]]:
    """Each call on things of Birchwood, with the lowest role that may make it."""
    room, alarm = site.scene.rooms["room-03"], site.scene.alarms["drift"]
    with site.connect() as conn:
        row = conn.execute(
            """
            SELECT a.channel_id, a.container_id FROM assignment a JOIN container c ON c.id = a.container_id
            WHERE c.room_id = %s ORDER BY c.slug LIMIT 1""",
            (room,),
        ).fetchone()
    assert row is not None
    channel, pot = row
    pack = [{"bn": "urn:dev:mac:0024befffe804ff1:", "n": "tension", "u": "hPa", "v": 100}]
    work = {"kind": "checked", "subject": {"type": "container", "id": str(pot)}}
    attach = {"type": "container", "id": str(pot)}

    def request(method: str, path: str, **values: object) -> httpx.Request:
        return httpx.Request(method, f"{site.address}/api/v1{path}", **values)  # type: ignore[arg-type]

    return {
        "one room": ("viewer", request("GET", f"/rooms/{room}")),
        "readings": ("viewer", request("GET", f"/readings?channel={channel}")),
        "one alarm": ("viewer", request("GET", f"/alarms/{alarm}")),
        "alarms of a facility": ("viewer", request("GET", "/alarms?facility=birchwood")),
        "rooms of a facility": ("viewer", request("GET", "/rooms?facility=birchwood")),
        "channels of a facility": ("viewer", request("GET", "/channels?facility=birchwood")),
        "acknowledge": ("grower", request("POST", f"/alarms/{alarm}/acknowledge")),
        "shelve": ("grower", request("POST", f"/alarms/{alarm}/shelve")),
        "unshelve": ("grower", request("POST", f"/alarms/{alarm}/unshelve")),
        "work": ("grower", request("POST", "/work", json=work)),
        "attach": ("manager", request("PUT", f"/channels/{channel}/assignment", json=attach)),
        "a pack": (
            "manager",
            request(
                "POST",
                "/readings?facility=birchwood&gateway=gw-09",
                json=pack,
                headers={"Content-Type": "application/senml+json"},
            ),
        ),
    }


@pytest.mark.parametrize("role", ROLES)
def test_a_role_may_do_what_it_is_for_and_no_more(site: Site, role: str) -> None:
    with site.connect() as conn:
        people.add_person(conn, "Somebody", role, ["birchwood"], None)
    program = site.program("Somebody")
    for name, (least, request) in _calls(site).items():
        request.headers.update({"Authorization": program.headers["Authorization"]})
        status = program.send(request).status_code
        if ROLES.index(role) >= ROLES.index(least):  # type: ignore[arg-type]
            assert 200 <= status < 300, (name, role, status)
        else:
            assert status == 403, (name, role, status)


@pytest.mark.parametrize("role", ROLES)
def test_nothing_crosses_facilities_whatever_the_role_elsewhere(site: Site, role: str) -> None:
    with site.connect() as conn:
        people.add_person(conn, "Neighbour", role, ["saltmarsh"], None)
    program = site.program("Neighbour")
    for name, (least, request) in _calls(site).items():
        request.headers.update({"Authorization": program.headers["Authorization"]})
        status = program.send(request).status_code
        refused = (404,) if ROLES.index(role) >= ROLES.index(least) else (403, 404)  # type: ignore[arg-type]
        assert status in refused, (name, role, status)


def test_lists_and_pages_name_nothing_of_another_facility(shown: Site) -> None:
    program, browser = shown.program("Ines"), shown.browser("Ines")
    texts = [program.get(f"/api/v1/{name}").text for name in ("rooms", "channels", "alarms")]
    texts += [
        browser.get(path).text
        for path in (
            "/",
            "/alarms",
            "/alarms?show=history",
            "/wall",
            "/wall?facility=birchwood",
            "/health",
            "/me",
            "/?facility=birchwood",
        )
    ]
    for text in texts:
        assert "birchwood" not in text.lower()
        assert "R3 east" not in text
    ids = {str(id) for id in (*shown.scene.alarms.values(), *(shown.scene.rooms[f"room-{n:02d}"] for n in range(1, 9)))}
    assert not ids & set(re.findall(r"[0-9a-f-]{36}", " ".join(texts)))


def test_pages_and_forms_about_another_facility_are_404(shown: Site) -> None:
    browser = shown.browser("Ines")
    page = browser.get("/").text
    token = page.partition('name="form_token" value="')[2].partition('"')[0]
    room, alarm = shown.scene.rooms["room-03"], shown.scene.alarms["drift"]
    for path in (
        f"/rooms/{room}",
        f"/rooms/{room}/table",
        f"/rooms/{room}/values",
        f"/rooms/{room}/values.csv",
        f"/alarms/{alarm}",
        f"/alarms/{alarm}/values",
    ):
        assert browser.get(path).status_code == 404, path
    form = {"form_token": token, "kind": "checked", "subject": f"room:{room}"}
    for path in (
        f"/rooms/{room}/work",
        f"/alarms/{alarm}/acknowledge",
        f"/alarms/{alarm}/shelve",
        f"/alarms/{alarm}/unshelve",
        f"/alarms/{alarm}/work",
    ):
        assert browser.post(path, data=form).status_code == 404, path


def test_a_viewer_sees_no_forms_to_act_and_may_not_send_them(shown: Site) -> None:
    browser = shown.browser("Otto")
    alarm, room = shown.scene.alarms["drift"], shown.scene.rooms["room-03"]
    page = browser.get(f"/alarms/{alarm}").text
    assert "Acknowledge</button>" not in page
    assert f'action="/rooms/{room}/work"' not in browser.get(f"/rooms/{room}").text
    token = page.partition('name="form_token" value="')[2].partition('"')[0]
    form = {"form_token": token, "kind": "checked", "subject": f"room:{room}"}
    assert browser.post(f"/alarms/{alarm}/acknowledge", data=form).status_code == 403
    assert browser.post(f"/rooms/{room}/work", data=form).status_code == 403


def test_somebody_with_two_roles_in_a_facility_has_the_higher(site: Site) -> None:
    with site.connect() as conn:
        person = people.add_person(conn, "Both", "viewer", None, None)
        conn.execute(
            "INSERT INTO membership (person_id, facility_id, role) VALUES (%s, %s, 'manager')",
            (person, site.scene.birchwood),
        )
        found = {each.slug: each.role for each in people.facilities_of(conn, person)}
    assert found == {"birchwood": "manager", "saltmarsh": "viewer"}
