"""Rules on the set-up pages: where each value comes from, and what a change would have done before it is saved."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from uuid import UUID

import httpx
import pytest

from tests.builders import place
from tests.integration.web.bare import bare_site, said, send, stand
from tests.integration.web.conftest import Site
from tests.parts.process import wait_until
from wickwatch.fleet.difference import Place
from wickwatch.fleet.document import parse
from wickwatch.store import fleet, rule_trials
from wickwatch.store.connect import connect
from wickwatch.watch import rule_trial
from wickwatch.watch.backtest import backtest

HERE = "/set-up/birchwood/rules"
ROOM = f"{HERE}?room=room-3"
POT = f"{ROOM}&container=pot-01"


@pytest.fixture
def site(plain_url: str) -> Iterator[Site]:
    with bare_site(plain_url) as opened:
        stand(opened)
        yield opened


def dry_pot(site: Site, days: float) -> UUID:
    """Pot 01 with a probe that has stood at 150 mbar for some days; returns the facility's id."""
    now = datetime.now(UTC)
    with site.connect() as conn:
        row = conn.execute(
            """SELECT f.id, k.id FROM facility f JOIN room r ON r.facility_id = f.id
               JOIN container k ON k.room_id = r.id WHERE k.slug = 'pot-01'"""
        ).fetchone()
        assert row is not None
        points = place.series(now, timedelta(days=days), timedelta(minutes=5), lambda hours: 150.0 + hours / 10)
        place.measured(conn, row[0], "container", row[1], points, now - timedelta(days=days + 1))
    return UUID(str(row[0]))


def rules(browser: httpx.Client) -> tuple[dict[str, float], dict[str, float], dict[str, float]]:
    """Rules given at the facility, the room and the first pot."""
    (facility,) = parse(browser.get("/set-up/birchwood/fleet.toml").text)
    room = facility.rooms[0]
    return dict(facility.rules), dict(room.rules), dict(room.containers[0].rules)


def test_each_value_says_where_it_comes_from_and_is_given_at_any_level(site: Site) -> None:
    browser = site.browser("Root")
    assert "100 mbar: the default." in said(browser.get(POT))
    assert send(browser, HERE, set_point_mbar="95", dry_limit_mbar="170", do="save").status_code == 303
    assert send(browser, ROOM, set_point_mbar="90,5", do="save").status_code == 303
    page = said(browser.get(POT))
    assert "90.5 mbar: from Room 3." in page
    assert "170 mbar: from Birchwood House." in page
    assert send(browser, POT, dry_limit_mbar="150", do="save").status_code == 303
    assert "Set here . Without it: 170 mbar (from Birchwood House)." in said(browser.get(POT))
    assert rules(browser) == (
        {"set_point_mbar": 95, "dry_limit_mbar": 170},
        {"set_point_mbar": 90.5},
        {"dry_limit_mbar": 150},
    )
    assert "1 rule of its own" in said(browser.get(ROOM))
    assert send(browser, POT, dry_limit_mbar="", do="save").status_code == 303
    assert rules(browser)[2] == {}


def test_a_rule_that_a_fleet_file_gave_where_no_page_shows_it_stays_when_others_are_saved(site: Site) -> None:
    browser = site.browser("Root")
    with site.connect() as conn:
        conn.execute("""UPDATE room SET rules = '{"gateway_silent_minutes": 20}'""")
    assert 'name="gateway_silent_minutes"' not in browser.get(ROOM).text
    assert send(browser, ROOM, low_hours="9", do="save").status_code == 303
    assert rules(browser)[1] == {"gateway_silent_minutes": 20, "low_hours": 9}
    assert send(browser, ROOM, low_hours="", do="save").status_code == 303
    assert rules(browser)[1] == {"gateway_silent_minutes": 20}


def test_rules_that_can_not_be_are_refused_where_they_stand(site: Site) -> None:
    browser = site.browser("Root")
    assert send(browser, POT, set_point_mbar="150", do="save").status_code == 303
    crossing = send(browser, HERE, dry_limit_mbar="140", do="save")
    assert crossing.status_code == 422
    assert "container pot-01: wet limit, set point, dry limit" in said(crossing)
    for typed in ("often", "0.1", "1e9"):
        answer = send(browser, ROOM, low_hours=typed, do="save")
        assert "Accepted: a number of hour from 1 to 336" in said(answer)
    assert browser.get(f"{HERE}?room=room-9").status_code == 404
    assert browser.get(f"{ROOM}&container=pot-99").status_code == 404


@pytest.mark.timeout(300)  # the process stands back behind all else on the machine
def test_a_change_is_tried_on_the_whole_facility_by_a_process_apart_and_saved_from_what_is_shown(
    site: Site,
) -> None:
    browser = site.browser("Root")
    refused = send(browser, HERE, dry_limit_mbar="140", do="try")
    assert "Birchwood House has no readings of the last 30 days to try them on" in said(refused)
    dry_pot(site, days=0.15)
    answer = send(browser, HERE, dry_limit_mbar="140", wet_limit_mbar="60", do="try")
    assert answer.status_code == 303, said(answer)
    shown = answer.headers["location"]

    def page() -> httpx.Response:
        return browser.get(shown)

    assert "of Birchwood House under other rules" in said(page())
    wait_until(lambda: "Working it out" not in said(page()), "the trial", 240, 0.5)
    told = said(page())
    assert "As it is: 0 alarms, 0 calls. As it would have been: 1 alarm, 1 call." in told, told
    assert "Drying out 0 1" in told
    assert 'value="140"' in page().text
    assert rules(browser)[0] == {}  # nothing was saved
    assert send(browser, shown, HERE, dry_limit_mbar="140", do="save").status_code == 303
    assert rules(browser)[0] == {"dry_limit_mbar": 140}


@pytest.mark.parametrize("kind", ["facility", "room"])
def test_a_trial_raises_what_a_backtest_of_the_saved_rules_raises(site: Site, kind: str) -> None:
    facility_id = dry_pot(site, days=0.3)
    now = datetime.now(UTC)
    start = now - timedelta(hours=2)
    with connect(site.database_url, "test") as conn:
        row = conn.execute("SELECT id FROM room").fetchone()
        assert row is not None
        where = {
            "facility": (None, facility_id, Place("facility", "birchwood", None, "birchwood"), None),
            "room": (row[0], row[0], Place("room", "birchwood", None, "room-3"), "room-3"),
        }
        trial = rule_trials.Trial(facility_id, *where[kind], {"dry_limit_mbar": 140}, start, now)
        shares: list[float] = []
        found = rule_trial.work_out(conn, trial, shares.append)
        conn.execute(f"""UPDATE {kind} SET rules = '{{"dry_limit_mbar": 140}}'""")
        saved = backtest(conn, facility_id, start, now, {})
        assert [each["kind"] for each in saved] == ["drying-drift"]
        assert [_told(each) for each in found["after"]] == [_told(each) for each in saved]
        assert found["before"] == []
        assert shares == sorted(shares)
        assert (shares[0] > 0, shares[-1] > 0.99) == (True, True)
        conn.rollback()


def _told(alarm: dict[str, object]) -> dict[str, object]:
    return {key: value for key, value in alarm.items() if key not in ("id", "made_of")}


def test_one_trial_at_a_time_and_it_is_ended_by_whoever_no_longer_wants_it(site: Site) -> None:
    browser = site.browser("Root")
    dry_pot(site, days=0.1)
    with connect(site.database_url, "test") as conn:
        (there,) = fleet.facilities(conn)
        row = conn.execute("SELECT id FROM room").fetchone()
        assert row is not None
        now = datetime.now(UTC)
        room = Place("room", "birchwood", None, "room-3")
        trial = rule_trials.Trial(
            there.id, row[0], row[0], room, "room-3", {"low_hours": 9.0}, now - timedelta(days=1), now
        )
        person = conn.execute("SELECT id FROM person").fetchone()
        assert person is not None
        id = rule_trials.order(conn, trial, person[0], now)
        assert id is not None
        assert rule_trials.load(conn, id) == trial
        assert rule_trials.order(conn, trial, person[0], now) is None
        conn.commit()
        refused = send(browser, ROOM, low_hours="8", do="try")
        assert "other rules are being tried in this facility" in said(refused)
        page = browser.get(f"{ROOM}&trial={id}")
        assert re.search(r'value="9"', page.text)
        assert send(browser, f"{ROOM}&trial={id}", f"{HERE}/trials/{id}/end").status_code == 303
        assert not rule_trials.tell(conn, id, 0.5, now)
        assert "It could not be worked out: it was ended." in said(browser.get(f"{ROOM}&trial={id}"))
        # One that nobody works out any longer is in nobody's way.
        assert rule_trials.order(conn, trial, person[0], now) is not None
        assert rule_trials.order(conn, trial, person[0], now + timedelta(minutes=1)) is None
        assert rule_trials.order(conn, trial, person[0], now + timedelta(minutes=3)) is not None
