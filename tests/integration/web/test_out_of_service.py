"""Parts out of service over the API and on the room page, and alarms as they were at a past moment."""

from __future__ import annotations

import re
from datetime import datetime, timedelta
from uuid import uuid4

import httpx

from tests.integration.web.conftest import NOW, Site, later


def _pot(site: Site, room: str) -> str:
    with site.connect() as conn:
        row = conn.execute("SELECT id FROM container WHERE room_id = %s LIMIT 1", (site.scene.rooms[room],)).fetchone()
    assert row is not None
    return str(row[0])


def _urn(site: Site, room: str) -> str:
    with site.connect() as conn:
        row = conn.execute(
            "SELECT d.urn FROM device d JOIN channel h ON h.device_id = d.id JOIN assignment a ON a.channel_id = h.id"
            " JOIN container c ON c.id = a.container_id WHERE c.room_id = %s LIMIT 1",
            (site.scene.rooms[room],),
        ).fetchone()
    assert row is not None
    return str(row[0])


def test_a_part_is_taken_out_listed_and_brought_back_once(site: Site) -> None:
    mara = site.program("Mara")
    pot = _pot(site, "room-03")
    body = {"subject": {"type": "container", "id": pot}, "for_s": 7200, "note": "new cup"}
    made = mara.post("/api/v1/out-of-service", json=body)
    assert made.status_code == 201, made.text
    one = made.json()
    assert (one["room"], one["person"], one["note"]) == ("room-03", "Mara", "new cup")
    assert one["until"] == "2026-11-25T11:30:00Z"
    room = str(site.scene.rooms["room-03"])
    assert mara.get("/api/v1/out-of-service", params={"room": room}).json() == {"items": [one]}
    later(site, minutes=1)
    assert mara.post(f"/api/v1/out-of-service/{one['id']}/end").status_code == 204
    assert mara.post(f"/api/v1/out-of-service/{one['id']}/end").status_code == 409
    assert mara.get("/api/v1/out-of-service").json() == {"items": []}
    (past,) = mara.get("/api/v1/out-of-service", params={"past": True}).json()["items"]
    assert past["ended_at"] == "2026-11-25T09:31:00Z"


def test_a_device_is_named_by_its_urn(site: Site) -> None:
    urn = _urn(site, "room-03")
    body = {"subject": {"type": "device", "id": urn}, "until": (NOW + timedelta(days=1)).isoformat()}
    made = site.program("Mara").post("/api/v1/out-of-service", json=body).json()
    assert (made["subject"], made["room"]) == ({"type": "device", "id": urn, "name": urn}, "room-03")


def test_what_cannot_be_meant_is_422_what_is_unknown_too_and_a_viewer_may_not(shown: Site) -> None:
    mara = shown.program("Mara")
    subject = {"type": "container", "id": _pot(shown, "room-03")}
    for body in (
        {"subject": subject},
        {"subject": subject, "for_s": 3600, "until": NOW.isoformat()},
        {"subject": subject, "until": NOW.isoformat()},
        {"subject": subject, "for_s": 29 * 86400},
        {"subject": {"type": "shelf", "id": "1"}, "for_s": 3600},
        {"subject": {"type": "container", "id": str(uuid4())}, "for_s": 3600},
    ):
        assert mara.post("/api/v1/out-of-service", json=body).status_code == 422, body
    assert mara.post(f"/api/v1/out-of-service/{uuid4()}/end").status_code == 404
    viewer = shown.program("Otto")
    assert viewer.post("/api/v1/out-of-service", json={"subject": subject, "for_s": 3600}).status_code == 403


def test_the_room_page_takes_out_shows_and_brings_back_without_a_script(site: Site) -> None:
    mara = site.browser("Mara")
    room = site.scene.rooms["room-03"]
    page = mara.get(f"/rooms/{room}").text
    assert "Everything in this room is in service." in page
    token = re.findall(r'name="form_token" value="([^"]+)"', page)[0]
    pot = _pot(site, "room-03")
    form = {"form_token": token, "part": f"container:{pot}", "hours": "24", "note": "new <cup>"}
    _sent(mara, f"/rooms/{room}/out-of-service", form)
    page = mara.get(f"/rooms/{room}").text
    assert "new &lt;cup&gt;" in page and "Everything in this room" not in page
    (end,) = re.findall(rf'action="(/rooms/{room}/out-of-service/[^"]+/end)"', page)
    _sent(mara, end, {"form_token": token})
    assert "Everything in this room is in service." in mara.get(f"/rooms/{room}").text
    assert mara.post(f"/rooms/{room}/out-of-service", data=form | {"form_token": "wrong"}).status_code == 403


def _sent(client: httpx.Client, path: str, form: dict[str, str]) -> None:
    answer = client.post(path, data=form)
    assert answer.status_code == 303 and answer.headers["location"].endswith("#service"), answer.text


def test_alarms_are_listed_as_they_were_at_a_past_moment(site: Site) -> None:
    mara = site.program("Mara")
    before = mara.get("/api/v1/alarms", params={"active": True}).json()["items"]
    id = next(one["id"] for one in before if one["state"] == "unacknowledged")
    then = site.now
    later(site, minutes=5)
    assert mara.post(f"/api/v1/alarms/{id}/acknowledge").status_code == 200

    def state(at: datetime) -> str:
        items = mara.get("/api/v1/alarms", params={"at": at.isoformat()}).json()["items"]
        return next(str(one["state"]) for one in items if one["id"] == id)

    assert (state(then), state(site.now)) == ("unacknowledged", "acknowledged")
    assert mara.get("/api/v1/alarms", params={"at": "2001-01-01T00:00:00Z"}).json()["items"] == []
    assert mara.get("/api/v1/alarms", params={"at": then.isoformat(), "active": False}).status_code == 422
