"""Channels over the JSON API, and attaching them."""

from __future__ import annotations

from datetime import timedelta

from tests.builders import place
from tests.integration.web.conftest import NOW, Site


def _waiting(site: Site, quantity: str = "tension") -> int:
    with site.connect() as conn:
        return place.channel(conn, site.scene.birchwood, quantity)


def _pot(site: Site, room: str = "room-01", slug: str = "pot-01") -> str:
    with site.connect() as conn:
        row = conn.execute(
            "SELECT id FROM container WHERE room_id = %s AND slug = %s", (site.scene.rooms[room], slug)
        ).fetchone()
    assert row is not None
    return str(row[0])


def test_channels_say_what_they_measure_and_page_by_cursor(both_site: Site) -> None:
    api = both_site.program("Mara")
    first = api.get("/api/v1/channels", params={"limit": 50}).json()
    rest = api.get("/api/v1/channels", params={"limit": 50, "cursor": first["next_cursor"]}).json()
    found = first["items"] + rest["items"]
    assert rest["next_cursor"] is None
    assert len(found) == 8 * 7
    assert {channel["facility"] for channel in found} == {"birchwood"}
    tension = next(channel for channel in found if channel["quantity"] == "tension")
    assert tension["assignment"]["type"] == "container"
    assert tension["assignment"]["room"] == "room-01"
    assert tension["last_at"] == "2026-11-25T09:30:00Z"


def test_a_manager_attaches_a_channel_and_what_it_measured_before_stays_on_record(both_site: Site) -> None:
    site, root = both_site, both_site.program("Root")
    channel, pot = _waiting(site), _pot(site)
    answer = root.put(f"/api/v1/channels/{channel}/assignment", json={"type": "container", "id": pot})
    assert answer.status_code == 200, answer.text
    assert answer.json()["assignment"]["id"] == pot
    assert answer.json()["assignment"]["from"] == "2026-11-25T09:30:00Z"
    with site.connect() as conn:
        former = conn.execute(
            "SELECT upper(during) FROM assignment WHERE container_id = %s AND channel_id <> %s", (pot, channel)
        ).fetchone()
    assert former == (NOW,)


def test_a_channel_is_detached(site: Site) -> None:
    root = site.program("Root")
    channel = root.get("/api/v1/channels", params={"attached": "true", "limit": 1}).json()["items"][0]["id"]
    assert root.put(f"/api/v1/channels/{channel}/assignment", json={}).json()["assignment"] is None


def test_a_channel_cannot_measure_what_it_is_not_for_nor_leave_before_it_came(shown: Site) -> None:
    root = shown.program("Root")
    wrong = root.put(
        f"/api/v1/channels/{_waiting(shown, 'level')}/assignment", json={"type": "container", "id": _pot(shown)}
    )
    assert wrong.status_code == 422
    channel = root.get("/api/v1/channels", params={"attached": "true", "limit": 1}).json()["items"][0]["id"]
    long_ago = (NOW - timedelta(days=300)).isoformat()
    assert root.put(f"/api/v1/channels/{channel}/assignment", json={"from": long_ago}).status_code == 409


def test_a_channel_is_not_attached_to_something_in_another_facility(shown: Site) -> None:
    root = shown.program("Root")
    foreign = _pot(shown, "room-09")
    answer = root.put(f"/api/v1/channels/{_waiting(shown)}/assignment", json={"type": "container", "id": foreign})
    assert answer.status_code == 404


def test_a_grower_may_not_attach_and_a_foreign_channel_is_404(shown: Site) -> None:
    body = {"type": "container", "id": _pot(shown)}
    channel = _waiting(shown)
    assert shown.program("Mara").put(f"/api/v1/channels/{channel}/assignment", json=body).status_code == 403
    assert shown.program("Ines").put(f"/api/v1/channels/{channel}/assignment", json=body).status_code == 404
