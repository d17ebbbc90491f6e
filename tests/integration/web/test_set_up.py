"""Set-up by pages: from an empty database to rooms that a fleet file would have declared, with its own errors."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from tests.integration.web.bare import CLOCK, CYLINDER, LIGHT, bare_site, build, house, said, send, stand, token
from tests.integration.web.conftest import Site
from wickwatch.fleet.difference import difference
from wickwatch.fleet.document import parse
from wickwatch.store import fleet, people
from wickwatch.store.connect import connect

ROOM = "/set-up/birchwood/rooms/room-3"


@pytest.fixture
def bare(database_url: str) -> Iterator[Site]:
    with bare_site(database_url) as site:
        yield site


@pytest.fixture
def site(plain_url: str) -> Iterator[Site]:
    with bare_site(plain_url) as opened:
        stand(opened)
        yield opened


def differs(site: Site, text: str) -> list[str]:
    """What a fleet file would change."""
    with connect(site.database_url, "test") as conn:
        wanted = parse(text)
        return [str(change) for change in difference(wanted, fleet.declared(conn, [each.slug for each in wanted]))]


def test_the_guide_leads_from_an_empty_database_to_a_room_that_a_fleet_file_would_have_declared(bare: Site) -> None:
    browser = bare.browser("Root")
    assert '<a href="/set-up">' in browser.get("/").text
    assert browser.get("/set-up").headers["location"] == "/new-facility"
    build(browser)
    assert differs(bare, house()) == []
    page = said(browser.get("/set-up/birchwood"))
    assert "3 containers" in page
    assert "Let your gateway publish to wickwatch/1/birchwood/gw-01/senml." in page


def test_what_a_page_shows_as_the_fleet_file_changes_nothing_when_it_is_applied(site: Site) -> None:
    answer = site.browser("Root").get("/set-up/birchwood/fleet.toml")
    assert 'filename="birchwood.toml"' in answer.headers["content-disposition"]
    assert parse(answer.text)[0].rooms[0].containers[2].name == "Pot 03"
    assert differs(site, answer.text) == []


def test_more_pots_go_on_where_the_numbers_ended(site: Site) -> None:
    browser = site.browser("Root")
    assert send(browser, f"{ROOM}/add/container", name="Pot", line="", count="2", stands_for="1").status_code == 303
    page = said(browser.get(ROOM))
    assert "Pot 04" in page
    assert "Pot 05" in page
    assert "Pot 06" not in page


REFUSED = [
    (
        "/new-facility",
        {"name": "X", "zone": "Nowhere"},
        "“Nowhere” can't be taken. Accepted: a name of the time zone",
    ),
    (
        "/new-facility",
        {"name": "Other", "slug": "birchwood", **CLOCK},
        "Accepted: a short name that no facility has",
    ),
    ("/set-up/birchwood/add-room", {"name": "Room 3", **LIGHT}, "a slug used once"),
    ("/set-up/birchwood/add-room", {"name": "日", **LIGHT}, "This is needed: a slug"),
    ("/set-up/birchwood/add-room", {"name": "R", "lights_on": "06:00", "lights_off": "06:00"}, "another time"),
    (f"{ROOM}/add/reservoir", {"name": "T", **CYLINDER, "diameter_mm": "wide"}, "“wide” can't be taken"),
    (f"{ROOM}/add/reservoir", {"name": "T", **CYLINDER, "diameter_mm": "1,580"}, "“1,580” can't be taken"),
    (f"{ROOM}/add/reservoir", {"name": "T", **CYLINDER, "outlet_mm": ""}, "This is needed: a number from 0"),
    (f"{ROOM}/add/reservoir", {"name": "T", **CYLINDER, "outlet_mm": "890"}, "below the tank's height of 900"),
    (
        f"{ROOM}/add/reservoir",
        {"name": "T", "shape": "table", "outlet_mm": "1", "strapping": "0 0"},
        "two or more rows",
    ),
    (f"{ROOM}/add/line", {"name": "L", "kind": "ring", "reservoir": ""}, "one of loop, dead-end"),
    (f"{ROOM}/add/line", {"name": "L", "kind": "loop", "reservoir": "west"}, "a reservoir of the same room"),
    (f"{ROOM}/add/container", {"name": "P", "volume_l": "-3"}, "a number from 0.001"),
    (f"{ROOM}/add/container", {"name": "P", "count": "1000"}, "a whole number from 1 to 200"),
    (f"{ROOM}/add/container", {"name": "P", "stands_for": "1.5"}, "a whole number from 1"),
]


def test_what_the_fleet_file_refuses_is_refused_at_its_field_and_nothing_is_changed(site: Site) -> None:
    browser = site.browser("Root")
    before = browser.get("/set-up/birchwood/fleet.toml").text
    for path, typed, wrong in REFUSED:
        answer = send(browser, path, **typed)
        assert answer.status_code == 422, wrong
        assert wrong in said(answer)
        assert 'aria-invalid="true"' in answer.text, wrong
        assert all(value in answer.text for value in typed.values() if value.isascii()), wrong
    assert browser.get("/set-up/birchwood/fleet.toml").text == before


def test_each_thing_is_changed_by_the_form_that_shows_it(site: Site) -> None:
    browser = site.browser("Root")
    changes = {
        "/set-up/birchwood/edit": {"name": "Birchwood", "zone": "Europe/London"},
        f"{ROOM}/edit": {"name": "Room three", "lights_on": "20:00", "lights_off": "14:00"},
        f"{ROOM}/reservoir/east-tank": {
            "name": "East", "shape": "table", "strapping": "0 0\n100; 26,1\r\n800\t243", "outlet_mm": "50",
            "head_mm": "", "sensor_zero_mm": "-5",
        },
        f"{ROOM}/line/loop": {"name": "Line", "kind": "dead-end", "reservoir": ""},
        f"{ROOM}/container/pot-02": {"name": "Bed", "line": "", "volume_l": "", "medium": "", "stands_for": "1"},
    }  # fmt: skip
    for path, typed in changes.items():
        assert send(browser, path, **typed).status_code == 303, path
    (facility,) = parse(browser.get("/set-up/birchwood/fleet.toml").text)
    room = facility.rooms[0]
    (tank,), (line,), bed = room.reservoirs, room.lines, room.containers[1]
    assert (facility.name, facility.zone, room.name) == ("Birchwood", "Europe/London", "Room three")
    assert (room.lights_on.hour, room.lights_off.hour) == (20, 14)
    assert (tank.shape, tank.keys) == ("table", {"strapping": ((0.0, 0.0), (100.0, 26.1), (800.0, 243.0))})
    assert (tank.outlet_mm, tank.head_mm, tank.sensor_zero_mm) == (50, 0, -5)
    assert (line.kind, line.reservoir) == ("dead-end", None)
    assert (bed.name, bed.line, bed.volume_l, bed.medium, bed.stands_for) == ("Bed", None, None, None, 1)


def test_a_shape_is_checked_against_a_known_filling_before_it_is_saved(site: Site) -> None:
    browser = site.browser("Root")
    path = f"{ROOM}/add/reservoir"
    # A round tank of 580 mm holds 26.42 l for each 100 mm: pi 290^2 100 mm3.
    fits = said(send(browser, path, name="T", **CYLINDER, level="450", known="120", do="check"))
    assert "At 450 mm it holds 119 l." in fits
    assert "That fits what you poured in, 120 l." in fits
    assert "Full to the rim it holds 238 l." in fits
    assert "The line starves at 70 mm with 18 l left, so 219 l are of use." in fits
    wrong = said(send(browser, path, name="T", **CYLINDER, level="450", known="90", do="check"))
    assert "That is 32 % more than the 90 l you poured in. Look at the measures again" in wrong
    half = send(browser, path, name="T", shape="box", length_mm="5", do="check")
    assert "What it holds is told here once its measures are filled in." in said(half)
    assert 'name="width_mm"' in half.text
    assert "East tank" in browser.get(ROOM).text
    assert '"t"' not in browser.get("/set-up/birchwood/fleet.toml").text


def test_what_is_taken_out_of_use_is_asked_for_first_and_its_history_stays(site: Site) -> None:
    browser = site.browser("Root")
    assert "Loop will be fed by nothing known here." in said(browser.get(f"{ROOM}/reservoir/east-tank/remove"))
    assert send(browser, f"{ROOM}/reservoir/east-tank/remove").status_code == 303
    assert "Pot 01, Pot 02 and Pot 03 will be fed by nothing" in said(browser.get(f"{ROOM}/line/loop/remove"))
    assert send(browser, f"{ROOM}/line/loop/remove").status_code == 303
    assert send(browser, f"{ROOM}/container/pot-01/remove").status_code == 303
    assert browser.get(f"{ROOM}/container/pot-01").status_code == 404
    refused = said(browser.get("/set-up/birchwood/remove"))
    assert "It has rooms still: take Room 3 out of use first." in refused
    assert send(browser, "/set-up/birchwood", "/set-up/birchwood/remove").status_code == 422
    assert "2 containers in it go with it." in said(browser.get(f"{ROOM}/remove"))
    assert send(browser, f"{ROOM}/remove").status_code == 303
    assert browser.get(ROOM).status_code == 404
    with site.connect() as conn:
        kept = conn.execute("SELECT count(*), count(retired_at) FROM container").fetchone()
    assert kept == (3, 3)
    assert send(browser, "/set-up/birchwood", "/set-up/birchwood/gateways", gateway="gw-01").status_code == 303
    assert send(browser, "/set-up/birchwood/remove").status_code == 303
    assert "There is no facility yet" in said(browser.get("/"))
    build(browser)  # the same short names are the same things again
    with site.connect() as conn:
        assert conn.execute("SELECT count(*), count(retired_at) FROM container").fetchone() == (3, 0)


def test_gateways_are_expected_and_no_longer_expected(site: Site) -> None:
    browser = site.browser("Root")
    here = "/set-up/birchwood"
    assert send(browser, here, f"{here}/gateways", gateway="GW 1").status_code == 422
    assert send(browser, here, f"{here}/gateways", gateway="gw-01").status_code == 303
    assert "gw-01 not heard yet" in said(browser.get(here))
    assert send(browser, here, f"{here}/gateways/gw-01/remove").status_code == 303
    assert "gw-01 not heard" not in said(browser.get(here))


def test_only_managers_set_up_and_nothing_crosses_facilities(site: Site) -> None:
    with site.connect() as conn:
        people.add_person(conn, "Vera", "manager", ["birchwood"], None)
        people.add_person(conn, "Mara", "grower", ["birchwood"], None)
    root = site.browser("Root")
    stand(site, "Saltmarsh Farm", "saltmarsh")
    with site.connect() as conn:
        people.add_person(conn, "Ines", "manager", ["saltmarsh"], None)
    vera, mara, ines = (site.browser(name) for name in ("Vera", "Mara", "Ines"))
    assert vera.get("/set-up").headers["location"] == "/set-up/birchwood"
    assert "You have neither role" in said(mara.get("/set-up"))
    for path in (
        "/set-up/birchwood", "/set-up/birchwood/edit", "/set-up/birchwood/add-room", ROOM, f"{ROOM}/edit",
        f"{ROOM}/remove", f"{ROOM}/add/container", f"{ROOM}/container/pot-01", f"{ROOM}/container/pot-01/remove",
        "/set-up/birchwood/channels", "/set-up/birchwood/rules", "/set-up/birchwood/fleet-file",
        "/set-up/birchwood/fleet.toml",
    ):  # fmt: skip
        assert vera.get(path).status_code == 200, path
        assert mara.get(path).status_code == 403, path
        assert ines.get(path).status_code == 404, path
    assert vera.get("/new-facility").status_code == 403
    assert vera.get("/set-up/birchwood/remove").status_code == 403
    for who, status in ((mara, 403), (ines, 404)):
        mine = {"form_token": token(who.get("/me"))}
        for path, typed in (
            ("/set-up/birchwood/edit", {"name": "Mine", **CLOCK}),
            ("/set-up/birchwood/add-room", {"name": "Room 9", **LIGHT}),
            ("/set-up/birchwood/gateways", {"gateway": "gw-66"}),
            ("/set-up/birchwood/remove", {}),
            (f"{ROOM}/edit", {"name": "Mine", **LIGHT}),
            (f"{ROOM}/remove", {}),
            (f"{ROOM}/add/line", {"name": "L", "kind": "loop"}),
            (f"{ROOM}/container/pot-01", {"name": "Mine"}),
            (f"{ROOM}/container/pot-01/remove", {}),
            ("/set-up/birchwood/rules", {"low_hours": "9", "do": "save"}),
        ):
            # Who ends no facility anywhere is told so before anybody looks which one is meant.
            refused = 403 if path == "/set-up/birchwood/remove" else status
            assert who.post(path, data=mine | typed).status_code == refused, path
    assert "Mine" not in root.get("/set-up/birchwood/fleet.toml").text
    assert "Birchwood" not in ines.get("/set-up/saltmarsh").text


def test_a_form_of_another_session_is_refused(site: Site) -> None:
    foreign = token(site.browser("Root").get("/set-up/birchwood/edit"))
    answer = site.browser("Root").post("/set-up/birchwood/edit", data={"form_token": foreign, "name": "X", **CLOCK})
    assert answer.status_code == 403
