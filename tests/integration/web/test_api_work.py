"""Work entries over the JSON API."""

from __future__ import annotations

from datetime import timedelta
from uuid import UUID, uuid4

from tests.integration.web.conftest import NOW, Site


def _reservoir(site: Site, room: str) -> UUID:
    with site.connect() as conn:
        row = conn.execute("SELECT id FROM reservoir WHERE room_id = %s", (site.scene.rooms[room],)).fetchone()
    assert row is not None
    found: UUID = row[0]
    return found


def test_work_is_recorded_with_who_where_and_when(both_site: Site) -> None:
    site = both_site
    reservoir = _reservoir(site, "room-03")
    at = (NOW - timedelta(minutes=10)).isoformat()
    body = {
        "kind": "refilled",
        "subject": {"type": "reservoir", "id": str(reservoir)},
        "at": at,
        "alarm": str(site.scene.alarms["empty"]),
        "note": "60 l",
    }
    answer = site.program("Mara").post("/api/v1/work", json=body)
    assert answer.status_code == 201, answer.text
    made = answer.json()
    assert made["at"] == "2026-11-25T09:20:00Z"
    assert (made["person"], made["room"], made["subject"]["name"]) == ("Mara", "room-03", "R3 east")
    with site.connect() as conn:
        row = conn.execute("SELECT kind, note, person_id FROM work_entry WHERE id = %s", (made["id"],)).fetchone()
    assert row == ("refilled", "60 l", site.scene.people["mara"])


def test_work_that_does_not_go_with_its_subject_or_time_is_422(shown: Site) -> None:
    mara = shown.program("Mara")
    subject = {"type": "reservoir", "id": str(_reservoir(shown, "room-03"))}
    good = {"kind": "refilled", "subject": subject}
    for body in (
        good | {"kind": "re-set-emitter"},
        good | {"kind": "sang to it"},
        good | {"at": (NOW + timedelta(days=1)).isoformat()},
        good | {"at": "2026-11-25T09:00:00"},
        good | {"note": "x" * 3000},
        good | {"note": "\0"},
        good | {"colour": "green"},
        {"kind": "refilled"},
        [],
    ):
        answer = mara.post("/api/v1/work", json=body)
        assert answer.status_code == 422, body
    assert mara.post("/api/v1/work", content=b"{", headers={"Content-Type": "application/json"}).status_code == 400


def test_work_on_something_foreign_or_unknown_is_404_and_a_viewer_may_not(shown: Site) -> None:
    foreign = {"kind": "refilled", "subject": {"type": "reservoir", "id": str(_reservoir(shown, "room-09"))}}
    own = {"kind": "refilled", "subject": {"type": "reservoir", "id": str(_reservoir(shown, "room-03"))}}
    mara = shown.program("Mara")
    assert mara.post("/api/v1/work", json=foreign).status_code == 404
    unknown = {"kind": "refilled", "subject": {"type": "reservoir", "id": str(uuid4())}}
    assert mara.post("/api/v1/work", json=unknown).status_code == 404
    assert shown.program("Otto").post("/api/v1/work", json=own).status_code == 403
