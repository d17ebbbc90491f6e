"""Answering by the link in a notice: that person, that alarm, for a time, and never by merely opening it."""

from __future__ import annotations

from datetime import timedelta
from uuid import UUID

import httpx
import pytest

from tests.builders import events
from tests.integration.web.conftest import NOW, Site, later
from tests.integration.web.test_pages import Seen, form_token
from tests.parts.web import SECRET_KEY
from wickwatch.notify.links import LASTS, Link, sign
from wickwatch.store import people


def link(site: Site, person: str = "mara", alarm: str | UUID = "empty", until: timedelta = LASTS) -> str:
    """The path of a link as a notice carries it."""
    about = alarm if isinstance(alarm, UUID) else site.scene.alarms[alarm]
    return f"/a/{sign(SECRET_KEY, Link(site.scene.people[person], about, NOW + until))}"


def fresh(site: Site, pot: str) -> UUID:
    """An alarm of this test alone, about a pot of Room 1 that no other test names."""
    with site.connect() as conn:
        row = conn.execute(
            "SELECT id, name FROM container WHERE room_id = %s AND slug = %s", (site.scene.rooms["room-01"], pot)
        ).fetchone()
        assert row is not None
        about = ("container", row[0], row[1])
        return events.alarm(conn, site.scene.birchwood, site.scene.rooms["room-01"], about, NOW - timedelta(minutes=9))


def stranger(site: Site) -> httpx.Client:
    """A browser nobody is signed in to."""
    return site.visitor(Accept="text/html")


def standing(site: Site) -> tuple[list[object], ...]:
    """All that an answer can change."""
    with site.connect() as conn:
        return tuple(
            conn.execute(f"SELECT * FROM {table} ORDER BY 1, 2").fetchall()
            for table in ("alarm", "alarm_journal", "work_entry", "session", "notice")
        )


def state(site: Site, alarm: UUID) -> tuple[str, UUID | None]:
    with site.connect() as conn:
        row = conn.execute("SELECT state, acknowledged_by FROM alarm WHERE id = %s", (alarm,)).fetchone()
    assert row is not None
    return row


def test_the_link_shows_alarm_chart_evidence_and_steps_without_a_sign_in(shown: Site) -> None:
    answer = stranger(shown).get(link(shown))
    assert answer.status_code == 200
    text = Seen(answer.text).text
    assert "R3 east in Room 3 is empty" in text
    assert "This is mine" in text
    assert "Refill the reservoir." in text
    assert "Empty level 70 mm" in text
    assert "Mara answers here" in text and "until Sat 10:30" in text
    assert 'class="plot"' in answer.text


def test_opening_it_changes_nothing_however_often_and_with_whatever_method(shown: Site) -> None:
    before = standing(shown)
    scanner = stranger(shown)
    for _ in range(3):
        assert scanner.get(link(shown)).status_code == 200
        assert scanner.head(link(shown)).status_code == 200
        assert scanner.get(f"{link(shown)}/mine").status_code == 405
        assert scanner.post(link(shown)).status_code == 405
    assert standing(shown) == before


def test_the_link_is_not_kept_not_found_and_not_told_to_others(shown: Site) -> None:
    for path in (link(shown), "/a/nonsense", link(shown, until=-timedelta(hours=1))):
        headers = stranger(shown).get(path).headers
        assert headers["cache-control"] == "no-store"
        assert headers["referrer-policy"] == "no-referrer"
        assert "noindex" in headers["x-robots-tag"]
        assert "set-cookie" not in headers
    assert stranger(shown).get("/sign-in").headers["referrer-policy"] == "same-origin"
    assert "/a/" not in stranger(shown).get("/metrics").text.replace("/a/{token}", "")


def test_one_tap_says_mine_in_the_name_of_the_links_person(shown: Site) -> None:
    alarm = fresh(shown, "pot-01")
    path, browser = link(shown, alarm=alarm), stranger(shown)
    done = browser.post(f"{path}/mine", data={"form_token": form_token(browser.get(path).text)})
    assert (done.status_code, done.headers["location"]) == (303, path)
    assert state(shown, alarm) == ("acknowledged", shown.scene.people["mara"])
    page = browser.get(path).text
    assert "Mara has it" in page and "This is mine" not in page
    assert "Mara has it" in shown.browser("Otto").get(f"/alarms/{alarm}").text


@pytest.mark.parametrize("act", ["mine", "shelve", "unshelve", "work"])
def test_nothing_is_taken_without_the_token_of_the_links_own_page(shown: Site, act: str) -> None:
    browser = stranger(shown)
    other = form_token(browser.get(link(shown, alarm="drift")).text)
    colleague = form_token(browser.get(link(shown, person="root")).text)
    session = form_token(shown.browser("Mara").get("/alarms").text)
    before = standing(shown)
    for token in ("", "00", other, colleague, session):
        data = {"form_token": token, "kind": "refilled", "note": "x"}
        assert browser.post(f"{link(shown)}/{act}", data=data).status_code == 403
    assert standing(shown)[:3] == before[:3]


def test_a_link_opens_one_alarm_for_one_person_in_their_facility(shown: Site) -> None:
    browser = stranger(shown)
    assert browser.get(link(shown, person="ines")).status_code == 404, "somebody of another facility"
    good = link(shown)
    said, _, signature = good.rpartition(".")
    _, _, other_signature = link(shown, alarm="drift").rpartition(".")
    for path in (
        f"{said}.{other_signature}",
        f"{said[:-2]}AA.{signature}",
        f"{said}.{signature[:-1]}",
        f"/a/{sign('another key that is long enough for it', Link(UUID(int=1), UUID(int=2), NOW + LASTS))}",
        "/a/x",
    ):
        assert browser.get(path).status_code == 404, path
    for path in ("/", f"/alarms/{shown.scene.alarms['drift']}", f"/rooms/{shown.scene.rooms['room-03']}", "/me"):
        browser.get(good)
        assert browser.get(path).headers["location"].startswith("/sign-in"), "a link signs nobody in"
    assert browser.get("/api/v1/alarms").status_code == 401
    linked = Seen(browser.get(good).text).all("form", "action")
    assert linked and all(action.startswith(good) for action in linked)


def test_a_link_ends_with_its_time(shown: Site) -> None:
    alarm = fresh(shown, "pot-02")
    path, browser = link(shown, alarm=alarm), stranger(shown)
    token = form_token(browser.get(path).text)
    try:
        later(shown, hours=72)
        over = browser.get(path)
        assert over.status_code == 410
        assert "This link is over" in over.text
        assert browser.post(f"{path}/mine", data={"form_token": token}).status_code == 410
    finally:
        shown.now = NOW
    assert state(shown, alarm)[0] == "unacknowledged"


def test_a_link_ends_with_the_account_and_with_the_role(shown: Site) -> None:
    alarm, browser = fresh(shown, "pot-03"), stranger(shown)
    with shown.connect() as conn:
        for name in ("Closed", "Moved"):
            shown.scene.people[name] = people.add_person(conn, name, "grower", ["birchwood"], None)
    paths = [link(shown, person=name, alarm=alarm) for name in ("Closed", "Moved")]
    tokens = [form_token(browser.get(path).text) for path in paths]
    with shown.connect() as conn:
        people.disable(conn, "Closed", NOW)
        conn.execute("DELETE FROM membership WHERE person_id = %s", (shown.scene.people["Moved"],))
    for path, token in zip(paths, tokens, strict=True):
        assert browser.get(path).status_code == 404
        assert browser.post(f"{path}/mine", data={"form_token": token}).status_code == 404
    assert state(shown, alarm)[0] == "unacknowledged"


def test_who_may_only_look_sees_it_and_can_change_nothing(shown: Site) -> None:
    browser = stranger(shown)
    page = browser.get(link(shown, person="otto")).text
    assert "This is mine" not in page and "form_token" not in page
    token = form_token(browser.get(link(shown)).text)
    assert browser.post(f"{link(shown, person='otto')}/mine", data={"form_token": token}).status_code == 403


def test_it_is_shelved_for_a_time_and_taken_off_again(shown: Site) -> None:
    alarm = fresh(shown, "pot-04")
    path, browser = link(shown, alarm=alarm), stranger(shown)
    token = form_token(browser.get(path).text)
    data = {"form_token": token, "hours": "12", "note": "waiting for the tanker"}
    assert browser.post(f"{path}/shelve", data=data).status_code == 303
    seen = Seen(browser.get(path).text).text
    assert "until 22:30" in seen and "waiting for the tanker" in seen
    assert state(shown, alarm)[0] == "shelved"
    assert browser.post(f"{path}/unshelve", data={"form_token": token}).status_code == 303
    assert state(shown, alarm)[0] == "unacknowledged"


def test_work_is_recorded_about_what_the_page_offers_and_nothing_else(shown: Site) -> None:
    alarm = fresh(shown, "pot-05")
    path, browser = link(shown, alarm=alarm), stranger(shown)
    page = browser.get(path).text
    with shown.connect() as conn:
        found = conn.execute(
            "SELECT a.subject_id, (SELECT min(c.id::text) FROM container c WHERE c.id <> a.subject_id)"
            " FROM alarm a WHERE a.id = %s",
            (alarm,),
        ).fetchone()
    assert found is not None
    pot, other = found
    data = {"form_token": form_token(page), "kind": f"re-set-emitter:container:{pot}", "ago": "30", "note": "by a mark"}
    assert f'value="{data["kind"]}"' in page
    for wrong in ({"kind": f"checked:container:{other}"}, {"kind": "checked", "subject": f"container:{pot}"}):
        refused = browser.post(f"{path}/work", data=data | wrong)
        assert refused.status_code == 422 and "Pot 01 dries out." in refused.text
    assert browser.post(f"{path}/work", data=data).status_code == 303
    with shown.connect() as conn:
        rows = conn.execute(
            "SELECT kind, subject_id, person_id, note, at FROM work_entry WHERE alarm_id = %s", (alarm,)
        ).fetchall()
    mara = shown.scene.people["mara"]
    assert rows == [("re-set-emitter", pot, mara, "by a mark", NOW - timedelta(minutes=30))]
    assert "by a mark" in browser.get(path).text


def test_who_comes_second_is_told_on_the_page_itself(shown: Site) -> None:
    alarm, browser = fresh(shown, "pot-06"), stranger(shown)
    mine, theirs = link(shown, alarm=alarm), link(shown, person="root", alarm=alarm)
    token, other = (form_token(browser.get(path).text) for path in (mine, theirs))
    assert browser.post(f"{theirs}/mine", data={"form_token": other}).status_code == 303
    late = browser.post(f"{mine}/mine", data={"form_token": token})
    assert late.status_code == 409
    assert "Root has already acknowledged" in late.text and "Root has it" in late.text
