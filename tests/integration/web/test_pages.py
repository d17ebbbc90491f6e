"""Pages as a browser without scripts reads them."""

from __future__ import annotations

import re
from datetime import timedelta
from html.parser import HTMLParser

import pytest

from tests.builders import events, place
from tests.integration.web.conftest import NOW, Site, later
from wickwatch.store import people


class Seen(HTMLParser):
    """What a page is made of: its tags with their attributes, and its text."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.words: list[str] = []
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_data(self, data: str) -> None:
        self.words.append(data)

    @property
    def text(self) -> str:
        return " ".join(" ".join(self.words).split())

    def all(self, name: str, attribute: str) -> list[str]:
        return [value for tag, attrs in self.tags if tag == name and (value := attrs.get(attribute)) is not None]


def _paths(site: Site) -> list[str]:
    room, alarm = site.scene.rooms["room-03"], site.scene.alarms["empty"]
    return [
        "/",
        "/?text=room&state=quiet",
        "/?part=rooms",
        f"/rooms/{room}",
        f"/rooms/{room}?span=7d",
        f"/rooms/{room}/settled",
        "/facilities/birchwood/advice",
        f"/rooms/{room}?part=room",
        f"/rooms/{room}/table?span=30d",
        "/alarms",
        "/alarms?show=history",
        "/alarms?show=explained&kind=drying-drift&text=pot",
        "/wall",
        "/wall?part=wall&look=dark",
        f"/rooms/{room}/values.csv?span=7d",
        f"/alarms/{alarm}",
        f"/alarms/{alarm}?part=alarm",
        f"/alarms/{site.scene.alarms['pot-01']}",
        "/reports",
        "/reports?part=reports",
        "/me",
        "/nothing-here",
    ]


def test_no_page_holds_anything_inline_or_from_another_host(shown: Site) -> None:
    browser = shown.browser("Mara")
    for path in [*_paths(shown), "/sign-in"]:
        answer = browser.get(path)
        seen = Seen(answer.text)
        for tag, attrs in seen.tags:
            assert tag != "style", path
            assert tag != "script" or attrs.get("src", "").startswith("/static/"), path  # type: ignore[union-attr]
            assert "style" not in attrs, (path, tag)
            assert not [name for name in attrs if name.startswith("on")], (path, tag)
            for name in ("src", "href", "action"):
                assert re.match(r"[/#?]|$", attrs.get(name) or ""), (path, tag, attrs)
        policy = answer.headers["content-security-policy"]
        assert "default-src 'none'" in policy
        assert "unsafe" not in policy
        assert answer.headers["x-content-type-options"] == "nosniff"


def test_every_link_of_every_page_leads_somewhere(shown: Site) -> None:
    browser = shown.browser("Mara")
    links = {link for path in _paths(shown)[:-1] for link in Seen(browser.get(path).text).all("a", "href")}
    links |= {
        file for path in ("/", f"/rooms/{shown.scene.rooms['room-03']}") for file in _files(browser.get(path).text)
    }
    for link in sorted(links - {"#main"}):
        path = link if link.startswith("/") else f"/alarms{link}" if "show" in link else None
        if path is not None:
            assert browser.get(path).status_code == 200, link


def _files(page: str) -> list[str]:
    seen = Seen(page)
    return [*seen.all("link", "href"), *seen.all("script", "src")]


def test_the_room_that_needs_someone_most_comes_first_with_what_is_wrong_in_words(both_site: Site) -> None:
    seen = Seen(both_site.browser("Mara").get("/").text)
    assert "3 rooms need someone, somebody has 1 other" in seen.text
    order = [word for word in seen.words if re.fullmatch(r"Room \d+", word.strip())]
    assert order[:4] == ["Room 3", "Room 7", "Room 8", "Room 6"]
    assert "R3 east in Room 3 is empty since 04:12" in seen.text
    assert "4 alarms explained by another." in seen.text
    assert "Mara has it" in seen.text
    assert "1 not heard lately" in seen.text


def test_filters_work_without_a_script(shown: Site) -> None:
    browser = shown.browser("Root")

    def rooms(query: str) -> int:
        return browser.get(f"/?{query}").text.count('<li class="room')

    assert rooms("") == 12
    assert rooms("facility=saltmarsh") == 4
    assert rooms("state=needs-someone") == 3
    assert rooms("text=probe+room+8") == 1
    assert "No room fits these filters" in browser.get("/?text=zzz").text
    assert browser.get("/?state=nonsense&facility=nonsense").status_code == 200


def test_what_somebody_types_is_shown_as_text(shown: Site) -> None:
    page = shown.browser("Mara").get("/", params={"text": '"><script>alert(1)</script>'}).text
    assert "<script>alert" not in page
    assert "&#34;&gt;&lt;script&gt;" in page


def test_names_that_look_like_html_are_shown_as_text(site: Site) -> None:
    with site.connect() as conn:
        conn.execute("UPDATE room SET name = '<b>x</b><script>1</script>' WHERE slug = 'room-03'")
    browser = site.browser("Mara")
    for path in ("/", f"/rooms/{site.scene.rooms['room-03']}"):
        assert "<script>1" not in browser.get(path).text


def test_an_alarm_answered_on_its_page_is_answered_on_the_status_page_at_once(both_site: Site) -> None:
    site = both_site
    browser = site.browser("Mara")
    assert "3 rooms need someone" in browser.get("/").text
    path = f"/alarms/{site.scene.alarms['empty']}"
    token = form_token(browser.get(path).text)
    assert browser.post(f"{path}/acknowledge", data={"form_token": token}).headers["location"] == path
    assert "Mara has it" in browser.get(path).text
    assert "2 rooms need someone, somebody has 2 others" in browser.get("/").text


def test_an_alarm_page_tells_evidence_steps_journal_cause_and_what_it_explains(shown: Site) -> None:
    browser = shown.browser("Mara")
    cause = Seen(browser.get(f"/alarms/{shown.scene.alarms['empty']}").text).text
    assert "Empty level 70 mm" in cause
    assert "Refill the reservoir." in cause
    assert "It explains 4 other alarms" in cause
    assert "05:30 Raised" in cause
    explained = Seen(browser.get(f"/alarms/{shown.scene.alarms['pot-01']}").text).text
    assert "Explained by" in explained
    assert "R3 east in Room 3 is empty" in explained


def test_shelving_from_the_page_needs_a_number_of_hours(site: Site) -> None:
    browser = site.browser("Mara")
    path = f"/alarms/{site.scene.alarms['drift']}"
    token = form_token(browser.get(path).text)
    assert browser.post(f"{path}/shelve", data={"form_token": token, "hours": "100"}).status_code == 422
    assert browser.post(f"{path}/shelve", data={"form_token": token, "hours": "1", "note": "parts"}).status_code == 303
    assert "until <time" in browser.get(path).text
    assert browser.post(f"{path}/unshelve", data={"form_token": token}).status_code == 303


def test_work_recorded_on_a_room_is_listed_there_with_the_facilitys_time(both_site: Site) -> None:
    site = both_site
    browser = site.browser("Mara")
    path = f"/rooms/{site.scene.rooms['room-03']}"
    page = browser.get(path).text
    subject = re.search(r'value="(reservoir:[0-9a-f-]{36})"', page)
    assert subject is not None
    form = {
        "form_token": form_token(page),
        "kind": "refilled",
        "subject": subject[1],
        "at": "2026-11-25T10:05",
        "note": "60 l",
    }
    assert browser.post(f"{path}/work", data=form).status_code == 303
    text = Seen(browser.get(path).text).text
    assert "10:05 Refilled the reservoir : R3 east Mara 60 l" in text
    with site.connect() as conn:
        assert conn.execute("SELECT at FROM work_entry").fetchone() == (NOW - timedelta(minutes=25),)


def test_work_that_does_not_go_with_its_subject_is_refused_in_words(shown: Site) -> None:
    browser = shown.browser("Mara")
    path = f"/rooms/{shown.scene.rooms['room-03']}"
    token = form_token(browser.get(path).text)
    for changes in (
        {"kind": "refilled", "subject": f"room:{shown.scene.rooms['room-03']}"},
        {"kind": "checked", "subject": "room:nonsense"},
        {"kind": "checked", "subject": f"room:{shown.scene.rooms['room-03']}", "at": "soon"},
        {"kind": "checked", "subject": f"room:{shown.scene.rooms['room-03']}", "at": "2027-11-25T10:05"},
    ):
        answer = browser.post(f"{path}/work", data={"form_token": token, **changes})
        assert answer.status_code == 422, changes
        assert "This can&#39;t be taken" in answer.text


def test_the_chart_is_in_the_page_and_the_table_holds_its_numbers(both_site: Site) -> None:
    browser = both_site.browser("Mara")
    path = f"/rooms/{both_site.scene.rooms['room-07']}"
    for span in ("24h", "7d", "30d"):
        page = browser.get(f"{path}?span={span}").text
        assert page.count('class="curve') == 7
        assert 'class="lit"' in page
    figures = browser.get(f"{path}/values").json()["figures"]
    table = Seen(browser.get(f"{path}/table").text).text
    last = [line["values"][-1] for figure in figures.values() for line in figure["lines"]]
    assert len(last) == 7
    assert all(f"{value:.1f}" in table for value in last)
    rows = browser.get(f"{path}/values.csv").text.splitlines()
    assert [round(float(cell), 1) for cell in rows[-1].split(",")[1:]] == last


def test_one_container_is_shown_alone_without_a_script(shown: Site) -> None:
    browser = shown.browser("Mara")
    path = f"/rooms/{shown.scene.rooms['room-07']}"
    page = browser.get(path).text
    only = re.search(r'<th scope="row"><a href="([^"]*only=[0-9a-f-]{36})#tension">Pot 02', page)
    assert only is not None
    alone = browser.get(path + only[1].replace("&amp;", "&")).text
    assert alone.count('class="curve') == 2
    assert 'aria-current="true"><svg viewBox="0 0 10 10" aria-hidden="true"><use href="#i-dry"/></svg>Pot 02' in alone


def test_what_is_out_of_service_is_marked_and_a_room_that_is_needs_nobody(site: Site) -> None:
    browser = site.browser("Mara")
    pot = re.search(r'value="(container:[0-9a-f-]{36})"', browser.get(f"/rooms/{site.scene.rooms['room-01']}").text)
    assert pot is not None
    token = form_token(browser.get("/").text)
    for room, part in (("room-01", pot[1]), ("room-02", f"room:{site.scene.rooms['room-02']}")):
        form = {"form_token": token, "part": part, "hours": "12", "note": "new emitter"}
        assert browser.post(f"/rooms/{site.scene.rooms[room]}/out-of-service", data=form).status_code == 303
    text = Seen(browser.get("/").text).text
    assert "Out of service: container Pot 01, until 22:30" in text
    assert "Out of service 1" in text
    assert "Out of service until 22:30" in text
    assert Seen(browser.get("/?state=out-of-service").text).text.count("mbar") == 0
    assert "out of service" in Seen(browser.get("/wall").text).text
    room = Seen(browser.get(f"/rooms/{site.scene.rooms['room-02']}").text).text
    assert "All of it is out of service" in room
    assert site.program("Mara").get(f"/api/v1/rooms/{site.scene.rooms['room-02']}").json()["state"] == "out-of-service"


def test_the_wall_shows_one_facility_where_one_is_asked_for_and_no_controls(shown: Site) -> None:
    browser = shown.browser("Root")
    page = browser.get("/wall?facility=saltmarsh&look=dark").text
    seen = Seen(page)
    assert "Saltmarsh Farm" in seen.text
    assert "Room 3" not in seen.text
    assert ("html", {"lang": "en", "class": "wall", "data-look": "dark"}) in seen.tags
    assert not {tag for tag, _ in seen.tags} & {"form", "button", "input", "select", "nav"}
    everything = Seen(browser.get("/wall").text).text
    assert "3 rooms need someone, somebody has 1 other" in everything
    assert everything.index("R3 east in Room 3 is empty") < everything.index(" other room")


def test_a_page_nobody_watches_for_says_so(site: Site) -> None:
    browser = site.browser("Mara")
    assert "Do not trust this page" not in browser.get("/").text
    later(site, minutes=3)
    assert "The watch is late in Birchwood House" in browser.get("/").text
    with site.connect() as conn:
        conn.execute("UPDATE heartbeat SET at = now() - interval '10 minutes' WHERE part = 'watch'")
    for path in ("/", "/alarms", f"/rooms/{site.scene.rooms['room-01']}", f"/alarms/{site.scene.alarms['empty']}"):
        assert "Nobody is watching: the watch was last heard 10 min ago" in browser.get(path).text


def test_readings_on_the_status_page_are_seconds_old_at_most(site: Site) -> None:
    browser = site.browser("Mara")
    assert "900 mbar" not in browser.get("/").text
    with site.connect() as conn:
        pot = place.container(conn, site.scene.rooms["room-01"], "pot-77")
        place.measured(conn, site.scene.birchwood, "container", pot, [(NOW, 900.0)], NOW - timedelta(days=1))
    later(site, seconds=61)
    assert "900 mbar" in browser.get("/").text


def test_without_a_facility_or_a_room_the_page_says_what_to_do(site: Site) -> None:
    with site.connect() as conn:
        people.add_person(conn, "Early", "viewer", [place.slug(conn, place.facility(conn, "empty-house"))], None)
        conn.execute("UPDATE person SET password_hash = (SELECT password_hash FROM person WHERE name = 'Mara')")
    seen = Seen(site.browser("Early").get("/").text).text
    assert "No rooms yet" in seen
    assert "wickwatch fleet apply my-fleet.toml --dry-run" in seen
    with site.connect() as conn:
        conn.execute("UPDATE facility SET retired_at = now()")
    assert "There is no facility yet" in Seen(site.browser("Root").get("/").text).text


def test_a_room_without_readings_is_told_from_a_quiet_one(site: Site) -> None:
    with site.connect() as conn:
        room = place.room(conn, site.scene.birchwood, "room-50", "Room 50")
        place.container(conn, room)
    browser = site.browser("Mara")
    assert "No readings yet 1" in Seen(browser.get("/").text).text
    assert "No readings in this time." in browser.get(f"/rooms/{room}").text
    assert "No readings in this time." in browser.get(f"/rooms/{room}/table").text


def test_an_alarm_about_the_whole_facility_stands_above_the_rooms(site: Site) -> None:
    with site.connect() as conn:
        gateway = place.gateway(conn, site.scene.birchwood)
        events.alarm(
            conn,
            site.scene.birchwood,
            None,
            ("gateway", gateway, "gw-01"),
            NOW - timedelta(minutes=20),
            "gateway-silent",
            "high",
            message="Gateway gw-01 in Birchwood House is silent.",
        )
    page = site.browser("Mara").get("/").text
    assert page.index("Gateway gw-01") < page.index("Room 3")


@pytest.mark.parametrize(
    "path", ["/rooms/nonsense", "/alarms/nonsense", "/nothing", "/rooms/%00", "/alarms?show=history&cursor=zzz"]
)
def test_an_error_is_a_page_for_people_and_a_problem_for_programs(shown: Site, path: str) -> None:
    browser = shown.browser("Mara")
    page = browser.get(path)
    assert page.status_code in (404, 422)
    assert page.headers["content-type"].startswith("text/html")
    assert "All rooms" in page.text
    problem = browser.get(path, headers={"Accept": "application/json"})
    assert problem.headers["content-type"] == "application/problem+json"


def test_the_part_that_changes_is_not_sent_again_while_it_is_the_same(shown: Site) -> None:
    browser = shown.browser("Mara")
    first = browser.get("/?part=rooms")
    again = browser.get("/?part=rooms", headers={"If-None-Match": first.headers["etag"]})
    assert (again.status_code, again.content) == (304, b"")


def test_static_files_are_kept_by_browsers_until_they_change(shown: Site) -> None:
    browser = shown.browser("Mara")
    file = _files(browser.get("/").text)[0]
    answer = browser.get(file)
    assert "immutable" in answer.headers["cache-control"]
    assert answer.headers["content-encoding"] == "gzip"
    old = re.sub(r"/static/[^/]+/", "/static/former/", file)
    assert browser.get(old).headers["cache-control"] == "no-cache"
    for path in ("/static/x/../app.py", "/static/x/%2e%2e/app.py", "/static/x/nothing.css"):
        assert browser.get(path).status_code == 404


def form_token(page: str) -> str:
    """The token that the forms of a page carry."""
    return page.partition('name="form_token" value="')[2].partition('"')[0]
