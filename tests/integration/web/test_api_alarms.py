"""Alarms over the JSON API: lists, and what people do with one."""

from __future__ import annotations

from datetime import timedelta

from tests.integration.web.conftest import NOW, Site, later
from wickwatch import alarms
from wickwatch.store import alarms as stored
from wickwatch.store import fleet


def test_alarms_come_newest_first_and_page_by_cursor(both_site: Site) -> None:
    api = both_site.program("Mara")
    all_at_once = api.get("/api/v1/alarms", params={"active": "true"}).json()
    assert all_at_once["next_cursor"] is None
    times = [alarm["raised_at"] for alarm in all_at_once["items"]]
    assert times == sorted(times, reverse=True)
    assert len(times) == 8
    seen, cursor = [], None
    while cursor is not None or not seen:
        part = api.get("/api/v1/alarms", params={"limit": 3, **({"cursor": cursor} if cursor else {})}).json()
        seen += [alarm["id"] for alarm in part["items"]]
        cursor = part["next_cursor"]
    assert seen == [alarm["id"] for alarm in all_at_once["items"]]


def test_an_alarm_has_the_shape_that_every_program_is_shown(shown: Site) -> None:
    answer = shown.program("Mara").get(f"/api/v1/alarms/{shown.scene.alarms['empty']}").json()
    with shown.connect() as conn:
        alarm, _ = stored.one(conn, shown.scene.alarms["empty"], [shown.scene.birchwood])
        place = fleet.load_facility(conn, shown.scene.birchwood, NOW)
    assert answer == alarms.as_json(alarm, place)


def test_alarms_can_be_asked_for_by_time_kind_room_and_whether_they_are_over(shown: Site) -> None:
    api = shown.program("Mara")

    def count(**params: str) -> int:
        return len(api.get("/api/v1/alarms", params=params).json()["items"])

    assert count(since=(NOW - timedelta(hours=1)).isoformat()) == 1
    assert count(kind="drying-drift") == 5
    assert count(room=str(shown.scene.rooms["room-03"])) == 5
    assert count(active="false") == 0
    assert count(facility="birchwood") == 8


def test_acknowledging_says_who_has_it_and_is_written_to_the_journal(both_site: Site) -> None:
    site = both_site
    alarm_id = site.scene.alarms["drift"]
    answer = site.program("Mara").post(f"/api/v1/alarms/{alarm_id}/acknowledge", json={"note": "on my way"})
    assert answer.status_code == 200
    assert answer.json()["state"] == "acknowledged"
    assert answer.json()["acknowledged_at"] == "2026-11-25T09:30:00Z"
    with site.connect() as conn:
        entry = conn.execute(
            """
            SELECT event, person_id, detail->>'note' FROM alarm_journal
            WHERE alarm_id = %s ORDER BY version DESC LIMIT 1""",
            (alarm_id,),
        ).fetchone()
    assert entry == ("acknowledged", site.scene.people["mara"], "on my way")


def test_acknowledging_twice_changes_nothing_and_a_second_person_is_told_who_has_it(site: Site) -> None:
    path = f"/api/v1/alarms/{site.scene.alarms['drift']}/acknowledge"
    mara = site.program("Mara")
    assert mara.post(path).status_code == 200
    assert mara.post(path).status_code == 200
    refused = site.program("Root").post(path)
    assert refused.status_code == 409
    assert "Mara has already acknowledged" in refused.json()["detail"]


def test_an_alarm_is_shelved_for_a_time_and_taken_off_the_shelf(site: Site) -> None:
    mara = site.program("Mara")
    path = f"/api/v1/alarms/{site.scene.alarms['drift']}"
    shelved = mara.post(f"{path}/shelve", json={"for_s": 3600, "note": "waiting for parts"}).json()
    assert shelved["state"] == "shelved"
    assert shelved["shelved_until"] == "2026-11-25T10:30:00Z"
    later(site, minutes=5)
    assert mara.post(f"{path}/unshelve").json()["state"] == "unacknowledged"
    assert mara.post(f"{path}/unshelve").status_code == 409


def test_shelving_needs_an_end_that_can_be_meant(shown: Site) -> None:
    mara = shown.program("Mara")
    path = f"/api/v1/alarms/{shown.scene.alarms['drift']}/shelve"
    for for_s in (0, -5, 86401, 10**12, "soon", None):
        assert mara.post(path, json={"for_s": for_s}).status_code == 422
    assert mara.post(path, json={"until": "2026"}).status_code == 422


def test_values_that_cannot_be_meant_are_422_and_say_which(shown: Site) -> None:
    api = shown.program("Mara")
    for params in (
        {"since": "yesterday"},
        {"since": "2026-11-20T00:00:00"},
        {"limit": "0"},
        {"limit": "100000"},
        {"active": "perhaps"},
        {"kind": "hunger"},
        {"cursor": "AAAA"},
        {"cursor": "W10"},
        {"since": "0001-01-01T00:00:00+14:00"},
    ):
        answer = api.get("/api/v1/alarms", params=params)
        assert answer.status_code == 422, params
        assert answer.headers["content-type"] == "application/problem+json"
        assert answer.json()["errors"][0]["thing"].endswith(next(iter(params)))
