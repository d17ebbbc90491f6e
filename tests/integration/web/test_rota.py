"""The rota on its page, in the API and as a calendar: what it shows, and who may change what."""

from __future__ import annotations

import re
from collections.abc import Iterator
from html import unescape
from uuid import UUID, uuid4

import httpx
import psycopg
import pytest
from icalendar import Calendar

from tests.builders import events, place
from tests.builders.scene import Scene
from tests.integration.web.conftest import Site, later
from tests.parts.web import serving
from wickwatch.store import contacts, people

PAGE = "/rota?facility=birchwood"


@pytest.fixture
def house(plain_url: str) -> Iterator[Site]:
    """Birchwood House with a manager, growers and a viewer, all of them but Otto with a mail address; and another."""
    with psycopg.connect(plain_url, options="-c timezone=UTC") as conn:
        birchwood, saltmarsh = place.facility(conn), place.facility(conn, "saltmarsh", zone="Europe/Lisbon")
        made = {
            name.lower(): people.add_person(conn, name, role, [slug], None)
            for name, role, slug in (
                ("Vera", "manager", "birchwood"),
                ("Mara", "grower", "birchwood"),
                ("Bo", "grower", "birchwood"),
                ("Otto", "viewer", "birchwood"),
                ("Ines", "manager", "saltmarsh"),
            )
        }
        for name in ("vera", "mara", "bo"):
            contacts.add(conn, made[name], "email", f"{name}@example.org")
    site = Site("", plain_url, Scene(birchwood, saltmarsh, {}, {}, made))
    with serving(plain_url, lambda: site.now) as address, site.stack:
        site.address = address
        yield site


def sent(browser: httpx.Client, path: str, **fields: object) -> httpx.Response:
    """A form of the page, sent as a browser sends it."""
    token = re.search(r'name="form_token" value="([0-9a-f]+)"', browser.get(PAGE).text)
    assert token is not None
    return browser.post(f"/rota/birchwood/{path}", data={"form_token": token[1], **fields})


def words(answer: httpx.Response) -> str:
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", answer.text)).split()).replace(" ,", ",")


def weekly(site: Site, vera: httpx.Client, *names: str, **fields: object) -> httpx.Response:
    ids = [str(site.scene.people[name]) for name in names]
    usual = {"step": 1, "person": [*ids, ""], "starts_on": "2026-11-23", "hand_over": "08:00", "turn_days": 7}
    return sent(vera, "weekly", **(usual | fields))


def test_a_manager_puts_people_on_the_rota_and_everybody_sees_who_is_called_and_when(house: Site) -> None:
    vera, otto = house.browser("Vera"), house.browser("Otto")
    assert "Nobody who can be reached is on duty at Birchwood House" in words(vera.get(PAGE))
    assert weekly(house, vera, "mara", "bo").headers["location"] == PAGE
    assert weekly(house, vera, "bo", step=2, starts_on="2026-11-25").status_code == 303
    assert sent(vera, "steps", minutes=[5, 15, 10]).status_code == 303
    seen = words(otto.get(PAGE))
    assert "Mara is called first now." in seen
    assert "Mara by e-mail at once" in seen and "Bo by e-mail after 5 min without an answer" in seen
    assert "Vera by e-mail after 20 min without an answer" in seen
    assert "now Mon 08:00 Mara" in seen and "Mon 08:00 7 Dec 08:00 Bo" in seen
    assert "Mara → Bo first to be called; 1 week each, hand-over Mondays 08:00, since 23 Nov 2026" in seen
    assert "New weekly turns" not in seen  # a viewer has no form for what they may not do
    duty = house.program("Otto").get("/api/v1/duty", params={"facility": "birchwood"}).json()
    assert [(each["after_s"], [who["name"] for who in each["people"]]) for each in duty["rungs"]] == [
        (0, ["Mara"]), (300, ["Bo"]), (1200, ["Vera"]),
    ]  # fmt: skip
    assert (duty["at"], duty["fallback"], duty["people"][0]["ways"]) == ("2026-11-25T09:30:00Z", False, ["email"])
    then = {"facility": "birchwood", "at": "2026-12-01T00:00:00+01:00"}
    assert house.program("Otto").get("/api/v1/duty", params=then).json()["people"][0]["name"] == "Bo"


def test_a_swap_a_holiday_and_their_end(house: Site) -> None:
    vera = house.browser("Vera")
    weekly(house, vera, "mara")
    bo = str(house.scene.people["bo"])
    sent(vera, "turns", step=1, person=bo, start="2026-11-26T10:30", end="2026-11-27T10:30")
    sent(vera, "holidays", country="no", subdivision="")
    weekly(house, vera, "bo", hand_over="00:00", on_holidays="yes")
    seen = words(vera.get(PAGE))
    assert "tomorrow 10:30 Fri 10:30 Bo by date" in seen
    assert "25 Dec 00:00 26 Dec 00:00 Bo Christmas Day" in seen and "Fri 25 Dec: Christmas Day" in seen
    for action in re.findall(
        r'action="/rota/birchwood/((?:turns|weekly)/[0-9a-f-]+/(?:remove|end))"', vera.get(PAGE).text
    ):
        assert sent(vera, action).status_code == 303
    after = words(vera.get(PAGE))
    assert "Bo by date" not in after and "Nobody has the duty from now on; the managers are called then." in after


def test_the_holidays_to_come_begin_with_the_day_it_is_there(house: Site) -> None:
    later(house, days=30, hours=14)  # half past midnight there, and still the day before by UTC
    vera = house.browser("Vera")
    sent(vera, "holidays", country="NO")
    seen = words(vera.get(PAGE))
    assert "Sat 26 Dec:" in seen and "Fri 25 Dec:" not in seen


def test_gaps_and_people_out_of_reach_are_warned_of(house: Site) -> None:
    vera = house.browser("Vera")
    weekly(house, vera, "mara", "otto", starts_on="2026-11-24")
    pattern = re.search(r"weekly/([0-9a-f-]+)/end", vera.get(PAGE).text)
    assert pattern is not None
    sent(vera, f"weekly/{pattern[1]}/end", on="2026-12-08")
    weekly(house, vera, "bo", step=2, starts_on="2026-12-15")
    seen = words(vera.get(PAGE))
    assert "Nobody has the duty from 8 Dec 08:00 until 15 Dec 08:00; the managers are called then." in seen
    assert "Nobody is first to be called from 8 Dec 08:00 on" not in seen  # said once is enough
    assert "There is no way yet to reach Otto." in seen
    sent(vera, "turns", step=1, person=str(house.scene.people["bo"]), start="2026-11-25T09:00")
    assert "Bo's turn by date has no end, so the weekly turns of that step never come up." in words(vera.get(PAGE))


def test_only_a_manager_changes_the_rota_and_nobody_that_of_another_facility(house: Site) -> None:
    mara, ines = house.browser("Mara"), house.browser("Ines")
    assert weekly(house, mara, "mara").status_code == 403
    for path, fields in (("steps", {"minutes": [1]}), ("holidays", {"country": "NO"}), ("turns/x/remove", {})):
        assert sent(mara, path, **fields).status_code == 403, path
    assert ines.get(PAGE).status_code == 404
    token = re.search(r'name="form_token" value="([0-9a-f]+)"', ines.get("/rota").text)
    assert token is not None
    form = {"form_token": token[1], "minutes": [1]}
    assert ines.post("/rota/birchwood/steps", data=form).status_code == 404
    assert house.browser("Vera").post("/rota/birchwood/steps", data={"minutes": [1]}).status_code == 403  # no token
    assert house.program("Ines").get("/api/v1/duty", params={"facility": "birchwood"}).status_code == 404
    # Nobody without a role there gets on a rota, even by a manager's hand.
    answer = weekly(house, house.browser("Vera"), "ines")
    assert answer.status_code == 200 and "somebody with a role in Birchwood House" in words(answer)


WRONG: list[tuple[str, dict[str, object], str]] = [
    ("weekly", {"step": 1, "person": [""], "starts_on": "2026-11-23", "hand_over": "08:00"}, "1 to 52"),
    ("weekly", {"step": 1, "person": ["x"], "starts_on": "2026-11-23", "hand_over": "08:00"}, "somebody with a role"),
    ("turns", {"step": 1, "person": "x", "start": "2026-11-26T10:30"}, "somebody with a role"),
    ("turns", {"step": 1, "person": "x", "start": "9999-12-31T23:59"}, "a date and time of the facility"),
    ("holidays", {"country": "ZZ"}, "an ISO 3166-1 code"),
    ("holidays", {"country": "DE", "subdivision": "ZZ"}, "BB, BE"),
    ("quiet", {"starts": "22:00"}, "a time of day, such as 08:00"),
    ("quiet", {"starts": "22:00", "ends": "22:00"}, "another time than their beginning"),
]


def test_what_cannot_be_is_said_on_the_page_and_changes_nothing(house: Site) -> None:
    vera = house.browser("Vera")
    for path, fields, said in WRONG:
        answer = sent(vera, path, **fields)
        assert answer.status_code == 200 and said in words(answer), path
    assert "Nobody has a turn yet." in words(vera.get(PAGE))


def test_each_person_has_their_own_quiet_hours(house: Site) -> None:
    vera, mara = house.browser("Vera"), house.browser("Mara")
    weekly(house, vera, "mara")
    assert sent(mara, "quiet", starts="10:00", ends="11:30").status_code == 303  # it is 10:30 there
    assert "low priority waits until 11:30" in words(vera.get(PAGE))
    assert 'name="starts" value="10:00"' in mara.get(PAGE).text and 'name="starts" value=""' in vera.get(PAGE).text
    duty = house.program("Mara").get("/api/v1/duty", params={"facility": "birchwood"}).json()
    assert duty["people"][0]["quiet_until"] == "2026-11-25T10:30:00Z"
    sent(mara, "quiet")
    assert "low priority waits" not in words(vera.get(PAGE))


def test_the_calendar_is_read_at_a_secret_address_until_it_is_ended(house: Site) -> None:
    vera, mara, reader = house.browser("Vera"), house.browser("Mara"), house.visitor()
    weekly(house, vera, "mara", "bo")
    addresses = {}
    for browser, whose in ((mara, "own"), (vera, "everybody")):
        made = re.search(r"<pre>(http[^<]+\.ics)</pre>", sent(browser, "feeds", whose=whose).text)
        assert made is not None
        addresses[whose] = made[1]
    answer = reader.get(addresses["everybody"])
    assert answer.headers["content-type"].startswith("text/calendar")
    turns = Calendar.from_ical(answer.content).walk("VEVENT")
    assert {str(event["summary"]).split(":")[0] for event in turns} == {"Mara", "Bo"}
    own = Calendar.from_ical(reader.get(addresses["own"]).content).walk("VEVENT")
    assert {str(event["summary"]).split(":")[0] for event in own} == {"Mara"}
    assert addresses["own"] not in mara.get(PAGE).text  # shown once
    later(house, days=1)
    assert reader.get(addresses["own"]).status_code == 200
    ends = re.findall(r"feeds/([0-9a-f-]+)/end", mara.get(PAGE).text)
    assert len(ends) == 1  # Mara may end her own, and not that of the manager
    other = (set(re.findall(r"feeds/([0-9a-f-]+)/end", vera.get(PAGE).text)) - set(ends)).pop()
    assert sent(mara, f"feeds/{other}/end").status_code == 403
    assert sent(mara, f"feeds/{ends[0]}/end").status_code == 303
    gone = reader.get(addresses["own"])
    assert gone.status_code == 404 and addresses["own"].rsplit("/", 1)[1] not in gone.text
    assert reader.get(addresses["everybody"][:-5] + "x.ics").status_code == 404
    with house.connect() as conn:
        people.disable(conn, "Vera", house.now)
    assert reader.get(addresses["everybody"]).status_code == 404


def test_an_address_is_kept_as_a_digest_and_written_to_no_log(house: Site, caplog: pytest.LogCaptureFixture) -> None:
    vera = house.browser("Vera")
    made = re.search(r"/rota/([\w-]{43})\.ics", sent(vera, "feeds", whose="everybody").text)
    assert made is not None
    house.visitor().get(f"/rota/{made[1]}.ics")
    with house.connect() as conn:
        kept = conn.execute("SELECT token_hash::text FROM rota_feed").fetchall()
    assert made[1] not in str(kept) and made[1] not in caplog.text
    assert made[1] not in house.visitor().get("/metrics").text


def test_one_can_ask_who_would_be_called_for_an_alarm_and_why_nobody_is(house: Site) -> None:
    vera, mara, api = house.browser("Vera"), house.browser("Mara"), house.program("Otto")
    weekly(house, vera, "mara")
    sent(mara, "quiet", starts="10:00", ends="11:30")  # it is 10:30 there
    ids: dict[str, UUID] = {}
    with house.connect() as conn:
        for name, kind, priority, state in (
            ("empty", "reservoir-empty", "high", "unacknowledged"),
            ("silent", "probe-silent", "low", "unacknowledged"),
            ("wet", "sudden-wetting", "high", "acknowledged"),
            ("dry", "drying-drift", "medium", "suppressed-by-design"),
        ):
            about = ("container", uuid4(), name)
            ids[name] = events.alarm(
                conn, house.scene.birchwood, None, about, house.now, kind, priority, state, cause_id=ids.get("empty")
            )

    def asked(name: str) -> dict[str, object]:
        return api.get(f"/api/v1/alarms/{ids[name]}/duty").json()  # type: ignore[no-any-return]

    high = asked("empty")
    assert high["nobody_because"] is None and high["held_until"] is None
    assert [(rung["after_s"], [who["name"] for who in rung["people"]]) for rung in high["rungs"]] == [  # type: ignore[attr-defined]
        (0, ["Mara"]), (600, ["Vera"]),
    ]  # fmt: skip
    assert asked("silent")["held_until"] == "2026-11-25T10:30:00Z"  # of low priority
    assert asked("wet")["nobody_because"] == "somebody has it"
    assert asked("dry")["nobody_because"] == "another alarm explains it, and that one calls"
    page = mara.get(f"/alarms/{ids['silent']}/duty")
    assert "The first call leaves at 11:30, when quiet hours are over." in words(page)
    assert "Mara, once quiet hours are over at once Vera by e-mail after 4 h without an answer" in words(page)
    assert f"/alarms/{ids['empty']}/duty" in mara.get(f"/alarms/{ids['empty']}").text
    ines = house.program("Ines")
    assert ines.get(f"/api/v1/alarms/{ids['empty']}/duty").status_code == 404
