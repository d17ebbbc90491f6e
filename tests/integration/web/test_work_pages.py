"""Work on the pages and in the API: recorded, judged, corrected, settled; and a facility's own text."""

from __future__ import annotations

import re
from datetime import timedelta
from uuid import UUID

from psycopg.types.json import Jsonb

from tests.integration.web.conftest import NOW, Site
from tests.integration.web.test_pages import Seen, form_token
from wickwatch.store import work


def _id(site: Site, table: str, room: str, slug: str) -> UUID:
    with site.connect() as conn:
        row = conn.execute(
            f"SELECT id FROM {table} WHERE room_id = %s AND slug = %s", (site.scene.rooms[room], slug)
        ).fetchone()
    assert row is not None
    found: UUID = row[0]
    return found


def _add(site: Site, kind: str, subject_type: str, subject_id: UUID, hours: float, note: str = "") -> work.Entry:
    with site.connect() as conn:
        return work.add(
            conn,
            [site.scene.birchwood],
            kind=kind,
            subject_type=subject_type,
            subject_id=subject_id,
            at=NOW - timedelta(hours=hours),
            now=NOW,
            person_id=site.scene.people["mara"],
            note=note,
        )


def _says(site: Site, alarm: str, entry: work.Entry, seconds: float | None) -> None:
    """An alarm's journal judges an entry."""
    with site.connect() as conn:
        conn.execute(
            "INSERT INTO alarm_journal (alarm_id, version, at, event, state, detail)"
            " VALUES (%s, 99, %s, 'cleared', 'normal', %s)",
            (site.scene.alarms[alarm], NOW, Jsonb({"judged": {str(entry.id): seconds}})),
        )


def test_the_rooms_work_list_says_what_helped_what_did_not_and_what_settles(site: Site) -> None:
    pots = [_id(site, "container", "room-03", f"pot-{n:02d}") for n in (1, 2, 3)]
    _says(site, "pot-01", _add(site, "re-set-emitter", "container", pots[0], 14), 3 * 3600 + 600)
    _says(site, "pot-02", _add(site, "replaced-emitter", "container", pots[1], 13), None)
    _add(site, "re-set-emitter", "container", pots[2], 3)
    page = site.browser("Mara").get(f"/rooms/{site.scene.rooms['room-03']}").text
    text = Seen(page).text
    assert "Re-set the emitter : Pot 01 Mara Back in its band 3 h 10 min later" in text
    assert "Replaced the emitter : Pot 02 Mara did not help" in text
    assert "Re-set the emitter : Pot 03 Mara settling until 19:30" in text
    settling = text[text.index("Settling after work") :]
    assert settling.startswith("Settling after work Pot 03 : re-set the emitter at 07:30, settling until 19:30")
    viewer = site.browser("Otto").get(f"/rooms/{site.scene.rooms['room-03']}").text
    assert "did not help" in viewer and "/work/" not in viewer


def test_an_entry_is_corrected_and_withdrawn_on_its_page(both_site: Site) -> None:
    site = both_site
    tank = _id(site, "reservoir", "room-03", "east")
    entry = _add(site, "refilled", "reservoir", tank, 2, "60 l")
    browser = site.browser("Mara")
    room = f"/rooms/{site.scene.rooms['room-03']}"
    link = re.search(r'href="(/work/[0-9a-f-]{36})"', browser.get(room).text)
    assert link is not None and link[1].endswith(str(entry.id))
    page = browser.get(link[1]).text
    assert 'value="2026-11-25T08:30"' in page and f'value="reservoir:{tank}" selected' in page
    form = {
        "form_token": form_token(page),
        "kind": "refilled",
        "subject": f"reservoir:{tank}",
        "at": "2026-11-25T09:10",
        "note": "80 l",
    }
    assert browser.post(f"{link[1]}/correct", data=form).headers["location"] == f"{room}#work"
    text = Seen(browser.get(room).text).text
    assert "09:10 Refilled the reservoir : R3 east Mara 80 l" in text and "60 l" not in text
    assert "Somebody has corrected this entry" in browser.get(link[1]).text
    assert browser.post(f"{link[1]}/correct", data=form).status_code == 409
    newer = re.search(r'href="(/work/[0-9a-f-]{36})"', browser.get(room).text)
    assert newer is not None
    assert browser.post(f"{newer[1]}/withdraw", data={"form_token": form["form_token"]}).status_code == 303
    assert "80 l" not in browser.get(room).text
    with site.connect() as conn:
        assert conn.execute("SELECT count(*) FROM work_entry").fetchone() == (3,)


def test_nobody_else_sees_or_corrects_an_entry(site: Site) -> None:
    entry = _add(site, "refilled", "reservoir", _id(site, "reservoir", "room-03", "east"), 2)
    path = f"/work/{entry.id}"
    otto = site.browser("Otto")
    page = otto.get(path).text
    assert "Refilled the reservoir: R3 east" in page and "Withdraw" not in page
    token = form_token(otto.get("/me").text)
    assert otto.post(f"{path}/withdraw", data={"form_token": token}).status_code == 403
    assert site.browser("Ines").get(path).status_code == 404
    assert site.browser("Mara").post(f"{path}/withdraw", data={}).status_code == 403
    assert site.program("Ines").post(f"/api/v1/work/{entry.id}/withdraw").status_code == 404


def test_a_refill_that_nobody_wrote_down_is_shown_and_recorded_with_one_tap(site: Site) -> None:
    tank = _id(site, "reservoir", "room-05", "east")
    with site.connect() as conn:
        conn.execute(
            "UPDATE rollup_5m SET mean = mean + 200 FROM assignment a"
            " WHERE a.reservoir_id = %s AND a.channel_id = rollup_5m.channel_id AND at >= %s",
            (tank, NOW - timedelta(hours=2)),
        )
    browser = site.browser("Mara")
    room = f"/rooms/{site.scene.rooms['room-05']}"
    page = browser.get(room).text
    # 200 mm of a tank 580 mm wide (derived).
    assert "08:25 Refilled with 53 l : R5 east seen in the level, nobody wrote it down" in Seen(page).text
    fields = re.search(r'name="subject" value="([^"]+)"><input type="hidden" name="at" value="([^"]+)"', page)
    assert fields is not None
    form = {"form_token": form_token(page), "kind": "refilled", "subject": fields[1], "at": fields[2]}
    assert browser.post(f"{room}/work", data=form).status_code == 303
    text = Seen(browser.get(room).text).text
    assert "nobody wrote it down" not in text and "08:25 Refilled the reservoir : R5 east Mara" in text


def test_which_pots_are_ready_for_an_emitter_is_told_with_the_reason(site: Site) -> None:
    path = f"/rooms/{site.scene.rooms['room-03']}/settled"
    text = Seen(site.browser("Otto").get(path).text).text
    assert "0 containers of 6 ready" in text
    assert re.search(r"Pot 01 : not yet \d+ mbar, set point 100 \d+ mbar drier than its set point of 100 mbar", text)
    with site.connect() as conn:
        conn.execute("UPDATE rollup_5m SET mean = 103, low = 103, high = 103, last = 103")
    made = site.program("Otto").get(f"/api/v1/rooms/{site.scene.rooms['room-03']}/settled").json()["items"]
    assert [each["ready"] for each in made] == [True] * 6
    assert (made[0]["container"]["name"], made[0]["reasons"], made[0]["tension_mbar"]) == ("Pot 01", [], 103.0)
    silent = Seen(site.browser("Mara").get(f"/rooms/{site.scene.rooms['room-08']}/settled").text).text
    assert "Pot 05 : not yet its probe sends nothing" in silent
    assert site.browser("Ines").get(path).status_code == 404


def test_work_on_the_alarms_page_is_told_as_minutes_ago(site: Site) -> None:
    browser = site.browser("Mara")
    path = f"/alarms/{site.scene.alarms['drift']}"
    page = browser.get(path).text
    choice = re.search(r'value="(re-set-emitter:container:[0-9a-f-]{36})"', page)
    assert choice is not None and "purged:line:" in page and "refilled:reservoir:" in page
    form = {"form_token": form_token(page), "kind": choice[1], "ago": "30", "note": "two marks"}
    assert browser.post(f"{path}/work", data=form).status_code == 303
    assert "10:00 Re-set the emitter Mara two marks" in Seen(browser.get(path).text).text
    for bad in ({"ago": "-1"}, {"at": "2026-03-29T02:30"}, {"kind": "re-set-emitter"}, {"at": "2026-10-01T00:00"}):
        answer = browser.post(f"{path}/work", data=form | bad)
        assert answer.status_code == 422 and "accepted" in answer.text, bad


def test_the_api_lists_work_with_what_became_of_it_and_takes_corrections(site: Site) -> None:
    pot = _id(site, "container", "room-03", "pot-01")
    entries = [_add(site, "re-set-emitter", "container", pot, hours) for hours in (30, 20, 10)]
    _says(site, "pot-01", entries[0], 5400.0)
    mara = site.program("Mara")
    first = mara.get("/api/v1/work", params={"limit": 2}).json()
    rest = mara.get("/api/v1/work", params={"limit": 2, "cursor": first["next_cursor"]}).json()
    told = [*first["items"], *rest["items"]]
    assert [each["id"] for each in told] == [str(entry.id) for entry in reversed(entries)]
    assert (told[2]["helped"], told[2]["helped_after_s"], told[0]["helped"]) == (True, 5400.0, None)
    assert rest["next_cursor"] is None
    body = {"kind": "pruned", "subject": {"type": "container", "id": str(pot)}, "corrects": str(entries[2].id)}
    made = mara.post("/api/v1/work", json=body)
    assert (made.status_code, made.json()["corrects"]) == (201, str(entries[2].id))
    assert mara.post("/api/v1/work", json=body).status_code == 409
    assert mara.post(f"/api/v1/work/{entries[1].id}/withdraw").status_code == 204
    left = mara.get("/api/v1/work", params={"facility": "birchwood"}).json()["items"]
    assert [each["kind"] for each in left] == ["pruned", "re-set-emitter"]
    assert site.program("Ines").get("/api/v1/work").json()["items"] == []


def test_a_managers_own_text_stands_beside_the_steps_and_in_the_api(both_site: Site) -> None:
    site = both_site
    root = site.browser("Root")
    path = "/facilities/birchwood/advice"
    form = {"form_token": form_token(root.get(path).text), "kind": "reservoir-empty"}
    text = "Cans stand behind the east door.\r\n<b>Never</b> use the corridor tap."
    assert root.post(path, data=form | {"text": text}).status_code == 303
    alarm = f"/alarms/{site.scene.alarms['empty']}"
    page = site.browser("Mara").get(alarm).text
    assert "At Birchwood House Cans stand behind the east door. <b>Never</b> use the corridor tap." in Seen(page).text
    told = site.program("Mara").get("/api/v1/alarms", params={"active": "true"}).json()["items"]
    advice = {each["kind"]: each["advice"] for each in told}
    assert advice["reservoir-empty"][0] == "Cans stand behind the east door.\n<b>Never</b> use the corridor tap."
    assert not any("Cans stand" in line for line in advice["drying-drift"])
    assert root.post(path, data=form | {"text": "x" * 601}).status_code == 422
    assert root.post(path, data=form | {"kind": "reservoir-high", "text": "x"}).status_code == 422
    assert root.post(path, data=form | {"text": " "}).status_code == 303
    assert "Cans stand" not in root.get(path).text
    mara = site.browser("Mara")
    assert "textarea" not in mara.get(path).text
    token = form_token(mara.get("/me").text)
    assert mara.post(path, data={"form_token": token, "kind": "reservoir-low", "text": "x"}).status_code == 403
    assert mara.get("/facilities/saltmarsh/advice").status_code == 404
