"""Answering by the link in a notice: that person, that alarm, for a time, and never by merely opening it."""

from __future__ import annotations

from datetime import timedelta
from uuid import UUID

import httpx
import pytest

from tests.integration.web.conftest import NOW, Site, later
from tests.integration.web.test_pages import Seen, form_token
from tests.parts.web import SECRET_KEY
from wickwatch.notify.links import LASTS, Link, sign
from wickwatch.store import people


def link(site: Site, person: str = "mara", alarm: str = "empty", until: timedelta = LASTS) -> str:
    """The path of a link as a notice carries it."""
    return f"/a/{sign(SECRET_KEY, Link(site.scene.people[person], site.scene.alarms[alarm], NOW + until))}"


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


def state(site: Site, alarm: str) -> tuple[str, UUID | None]:
    with site.connect() as conn:
        row = conn.execute(
            "SELECT state, acknowledged_by FROM alarm WHERE id = %s", (site.scene.alarms[alarm],)
        ).fetchone()
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


def test_one_tap_says_mine_in_the_name_of_the_links_person(site: Site) -> None:
    browser = stranger(site)
    token = form_token(browser.get(link(site)).text)
    done = browser.post(f"{link(site)}/mine", data={"form_token": token})
    assert (done.status_code, done.headers["location"]) == (303, link(site))
    assert state(site, "empty") == ("acknowledged", site.scene.people["mara"])
    page = browser.get(link(site)).text
    assert "Mara has it" in page and "This is mine" not in page
    assert "Mara has it" in site.browser("Otto").get("/").text


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


def test_a_link_ends_with_its_time_the_account_and_the_role(site: Site) -> None:
    browser = stranger(site)
    assert browser.get(link(site)).status_code == 200
    token = form_token(browser.get(link(site)).text)
    later(site, hours=72)
    over = browser.get(link(site))
    assert over.status_code == 410
    assert "This link is over" in over.text
    assert browser.post(f"{link(site)}/mine", data={"form_token": token}).status_code == 410
    site.now = NOW
    with site.connect() as conn:
        conn.execute("DELETE FROM membership WHERE person_id = %s", (site.scene.people["otto"],))
        people.disable(conn, "Mara", NOW)
    assert browser.get(link(site, person="otto")).status_code == 404
    assert browser.get(link(site)).status_code == 404
    assert browser.post(f"{link(site)}/mine", data={"form_token": token}).status_code == 404
    assert state(site, "empty")[0] == "unacknowledged"


def test_who_may_only_look_sees_it_and_can_change_nothing(shown: Site) -> None:
    browser = stranger(shown)
    page = browser.get(link(shown, person="otto")).text
    assert "This is mine" not in page and "form_token" not in page
    token = form_token(browser.get(link(shown)).text)
    assert browser.post(f"{link(shown, person='otto')}/mine", data={"form_token": token}).status_code == 403


def test_it_is_shelved_for_a_time_and_taken_off_again(site: Site) -> None:
    browser = stranger(site)
    token = form_token(browser.get(link(site)).text)
    data = {"form_token": token, "hours": "12", "note": "waiting for the tanker"}
    assert browser.post(f"{link(site)}/shelve", data=data).status_code == 303
    seen = Seen(browser.get(link(site)).text).text
    assert "until 22:30" in seen and "waiting for the tanker" in seen
    assert state(site, "empty")[0] == "shelved"
    assert browser.post(f"{link(site)}/unshelve", data={"form_token": token}).status_code == 303
    assert state(site, "empty")[0] == "unacknowledged"


def test_work_is_recorded_about_what_the_page_offers_and_nothing_else(site: Site) -> None:
    browser = stranger(site)
    page = browser.get(link(site)).text
    with site.connect() as conn:
        (tank,) = conn.execute("SELECT subject_id FROM alarm WHERE id = %s", (site.scene.alarms["empty"],)).fetchone()
        (pot,) = conn.execute("SELECT id FROM container LIMIT 1").fetchone()
    data = {"form_token": form_token(page), "kind": f"refilled:reservoir:{tank}", "ago": "30", "note": "60 l, by can"}
    assert f'value="{data["kind"]}"' in page
    for other in ({"kind": f"checked:container:{pot}"}, {"kind": "checked", "subject": f"container:{pot}"}):
        assert browser.post(f"{link(site)}/work", data=data | other).status_code == 422
    assert browser.post(f"{link(site)}/work", data=data).status_code == 303
    with site.connect() as conn:
        rows = conn.execute(
            "SELECT kind, subject_id, person_id, alarm_id, note, at FROM work_entry WHERE note LIKE '60%'"
        ).fetchall()
    mara, alarm = site.scene.people["mara"], site.scene.alarms["empty"]
    assert rows == [("refilled", tank, mara, alarm, "60 l, by can", NOW - timedelta(minutes=30))]
    assert "60 l, by can" in browser.get(link(site)).text


def test_what_cannot_be_done_is_said_on_the_page_itself(site: Site) -> None:
    browser = stranger(site)
    token = form_token(browser.get(link(site)).text)
    root = form_token(browser.get(link(site, person="root")).text)
    assert browser.post(f"{link(site, person='root')}/mine", data={"form_token": root}).status_code == 303
    late = browser.post(f"{link(site)}/mine", data={"form_token": token})
    assert late.status_code == 409
    assert "Root has already acknowledged" in late.text and "Root has it" in late.text
    wrong = browser.post(f"{link(site)}/work", data={"form_token": token, "kind": "re-set-emitter:x:y"})
    assert wrong.status_code == 422 and "R3 east in Room 3 is empty" in wrong.text
