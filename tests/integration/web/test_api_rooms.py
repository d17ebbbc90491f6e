"""Rooms over the JSON API."""

from __future__ import annotations

from uuid import uuid4

from tests.integration.web.conftest import Site


def test_a_room_shows_its_containers_reservoirs_and_active_alarms(both_site: Site) -> None:
    api = both_site.program("Mara")
    room = api.get(f"/api/v1/rooms/{both_site.scene.rooms['room-03']}").json()
    assert (room["slug"], room["facility"], room["zone"]) == ("room-03", "birchwood", "Europe/Oslo")
    assert (room["lights_on"], room["lights_off"]) == ("06:00", "18:00")
    assert room["state"] == "needs-someone"
    assert len(room["containers"]) == 6
    pot = room["containers"][0]
    assert pot["slug"] == "pot-01"
    assert pot["state"] == "dry"
    assert pot["tension_mbar"] > pot["dry_limit_mbar"] == 180.0
    assert pot["read_at"] == "2026-11-25T09:30:00Z"
    assert pot["line"] == "loop"
    reservoir = room["reservoirs"][0]
    assert reservoir["level_mm"] == 62.0
    # 62 mm in a cylinder of 580 mm: pi * 290^2 * 62 / 1e6 l
    assert abs(reservoir["volume_l"] - 16.38) < 0.01
    assert reservoir["usable_l"] == 0.0
    kinds = [alarm["kind"] for alarm in room["alarms"]]
    assert kinds[0] == "reservoir-empty"
    assert kinds.count("drying-drift") == 4
    assert all(alarm["suppressed"] for alarm in room["alarms"][1:])
    assert {alarm["cause"] for alarm in room["alarms"][1:]} == {room["alarms"][0]["id"]}


def test_rooms_page_by_cursor_and_each_comes_once(shown: Site) -> None:
    api = shown.program("Root")
    seen, cursor, pages = [], None, 0
    while True:
        answer = api.get("/api/v1/rooms", params={"limit": 5, **({"cursor": cursor} if cursor else {})}).json()
        seen += [(room["facility"], room["slug"]) for room in answer["items"]]
        pages += 1
        cursor = answer["next_cursor"]
        if cursor is None:
            break
    assert pages == 3
    assert seen == sorted(seen)
    assert len(set(seen)) == len(seen) == 12


def test_rooms_can_be_asked_for_by_facility(shown: Site) -> None:
    rooms = shown.program("Root").get("/api/v1/rooms", params={"facility": "saltmarsh"}).json()["items"]
    assert {room["facility"] for room in rooms} == {"saltmarsh"}
    assert len(rooms) == 4


def test_a_room_that_is_foreign_unknown_or_no_id_at_all_is_the_same_404(shown: Site) -> None:
    api = shown.program("Mara")
    answers = [
        api.get(f"/api/v1/rooms/{id}") for id in (shown.scene.rooms["room-09"], uuid4(), "room-03", "%00", "' OR 1=1")
    ]
    assert {answer.status_code for answer in answers} == {404}
    assert {answer.json()["detail"] for answer in answers} == {"there is no such room, or you may not see it"}
    assert {answer.headers["content-type"] for answer in answers} == {"application/problem+json"}


def test_a_container_without_recent_readings_is_silent_and_one_without_any_is_unread(site: Site) -> None:
    with site.connect() as conn:
        conn.execute(
            "INSERT INTO container (room_id, slug, name) VALUES (%s, 'pot-99', 'Pot 99')",
            (site.scene.rooms["room-08"],),
        )
    room = site.program("Mara").get(f"/api/v1/rooms/{site.scene.rooms['room-08']}").json()
    states = {pot["slug"]: pot["state"] for pot in room["containers"]}
    assert states["pot-05"] == "silent"
    assert states["pot-99"] == "unread"
    assert states["pot-01"] == "in-band"


def test_a_reservoir_that_is_drawn_on_says_when_it_is_empty(site: Site) -> None:
    # R5 east falls 9 mm/h from 150 mm and starves at 70 mm: 8.9 h are left, but only six hours were read.
    with site.connect() as conn:
        channel = conn.execute(
            "SELECT a.channel_id FROM assignment a JOIN reservoir r ON r.id = a.reservoir_id WHERE r.name = 'R5 east'"
        ).fetchone()
        assert channel is not None
        conn.execute(
            """
            INSERT INTO rollup_1h SELECT %s, %s - n * interval '1 hour', 12, level, level, level
            FROM generate_series(1, 48) n, LATERAL (SELECT 150.0 + 9.0 * n AS level) l ON CONFLICT DO NOTHING""",
            (channel[0], site.now.replace(minute=0)),
        )
    room = site.program("Mara").get(f"/api/v1/rooms/{site.scene.rooms['room-05']}").json()
    reservoir = room["reservoirs"][0]
    assert reservoir["draw_l_per_h"] is not None
    # 9 mm/h of a cylinder of 580 mm is 2.38 l/h
    assert abs(reservoir["draw_l_per_h"] - 2.38) < 0.15
    assert "2026-11-25T17:" <= reservoir["empty_at"] <= "2026-11-25T19:00"
    assert reservoir["empty_at_soonest"] <= reservoir["empty_at"] <= reservoir["empty_at_latest"]


def test_a_reservoir_that_the_watch_found_low_is_empty_when_the_alarm_says_so(site: Site) -> None:
    with site.connect() as conn:
        conn.execute(
            """
            INSERT INTO finding (facility_id, room_id, kind, subject_type, subject_id, subject_name, since, seen_at,
                                 last_seen_at, harm_at, evidence)
            SELECT %(facility)s, room_id, 'reservoir-low', 'reservoir', id, name, %(now)s, %(now)s, %(now)s,
                   %(now)s + interval '3 hours', '{}'
            FROM reservoir WHERE name = 'R5 east'""",
            {"facility": site.scene.birchwood, "now": site.now},
        )
    room = site.program("Mara").get(f"/api/v1/rooms/{site.scene.rooms['room-05']}").json()
    assert room["reservoirs"][0]["empty_at"] == "2026-11-25T12:30:00Z"
    assert "until 13:30" in site.browser("Mara").get("/").text
