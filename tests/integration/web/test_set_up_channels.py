"""Channels on the set-up pages: what was heard is attached by choosing a part and confirming, and history stays."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from uuid import UUID
from zoneinfo import ZoneInfo

import pytest

from tests.builders import place
from tests.integration.web.bare import bare_site, said, send, stand
from tests.integration.web.conftest import Site
from wickwatch.store import people

HERE = "/set-up/birchwood/channels"


@pytest.fixture
def site(plain_url: str) -> Iterator[Site]:
    with bare_site(plain_url) as opened:
        stand(opened)
        yield opened


def heard(site: Site, quantity: str = "tension", value: float = 104.0, facility: str = "birchwood") -> int:
    """A channel with a day of readings, attached to nothing."""
    now = datetime.now(UTC)
    with site.connect() as conn:
        row = conn.execute("SELECT id FROM facility WHERE slug = %s", (facility,)).fetchone()
        assert row is not None
        channel = place.channel(conn, row[0], quantity)
        place.readings(
            conn, channel, place.series(now, timedelta(days=1), timedelta(minutes=10), lambda hours: value + hours)
        )
    return channel


def choice(site: Site, channel: int, name: str) -> str:
    """The address behind the part of this name on a channel's page."""
    page = site.browser("Root").get(f"{HERE}/{channel}").text
    found = re.search(rf'href="([^"]+)"><b>{name}</b>', page)
    assert found is not None, page
    return found[1].replace("&amp;", "&")


def confirm(site: Site, channel: int, name: str, **typed: str) -> int:
    """Choose a part and confirm; returns the status."""
    path = choice(site, channel, name)
    to = re.search(r"to=([^&]+)", path)
    assert to is not None
    return send(
        site.browser("Root"), path, f"{HERE}/{channel}/attach", to=to[1].replace("%3A", ":"), **typed
    ).status_code


def history(site: Site, slug: str) -> list[tuple[int, bool, bool]]:
    """Channels of a pot in order of time, whether as a twin, and whether still."""
    with site.connect() as conn:
        return conn.execute(
            """SELECT a.channel_id, a.twin, upper_inf(a.during) FROM assignment a
               JOIN container k ON k.id = a.container_id WHERE k.slug = %s ORDER BY lower(a.during), a.twin""",
            (slug,),
        ).fetchall()


def test_what_was_heard_is_listed_with_its_value_and_trend_and_attached_by_two_taps(site: Site) -> None:
    channel, _ = heard(site), heard(site, "battery", 80)
    page = site.browser("Root").get(HERE)
    assert "104 mbar tension" in said(page)
    assert "just now" in said(page)
    assert "from 80" in page.text  # what a reader that can't see the trend is told
    assert page.text.count('class="channel"') == 1  # a battery goes with its device
    assert re.search(r'<path d="M1\.0 26\.0L', page.text)
    assert "1 channel heard and attached to nothing" in said(site.browser("Root").get("/set-up/birchwood"))
    assert confirm(site, channel, "Pot 02") == 303
    assert history(site, "pot-02") == [(channel, False, True)]
    assert "Every channel that was heard is attached" in said(site.browser("Root").get(HERE))
    assert "104 mbar tension of Pot 02, room-3" in said(site.browser("Root").get(f"{HERE}?show=attached"))


def test_a_device_is_swapped_and_the_pots_history_goes_on(site: Site) -> None:
    old, new = heard(site), heard(site, value=99.0)
    begun = datetime.now(UTC) - timedelta(hours=5)
    since = begun.astimezone(ZoneInfo("Europe/Oslo")).strftime("%Y-%m-%dT%H:%M")
    assert confirm(site, old, "Pot 01", since=since) == 303
    page = site.browser("Root").get(f"{HERE}/{old}").text
    swap = re.search(rf'href="(/set-up/birchwood/channels/{new}\?to=[^"]+)"', page)
    assert swap is not None
    sure = site.browser("Root").get(swap[1].replace("&amp;", "&"))
    assert "This one takes its place; the history goes on" in said(sure)
    assert confirm(site, new, "Pot 01") == 303
    assert history(site, "pot-01") == [(old, False, False), (new, False, True)]


def test_a_second_probe_stands_beside_the_first_as_a_twin_and_a_channel_is_detached(site: Site) -> None:
    first, second = heard(site), heard(site)
    assert confirm(site, first, "Pot 03") == 303
    assert confirm(site, second, "Pot 03", twin="yes") == 303
    assert sorted(history(site, "pot-03")) == sorted([(first, False, True), (second, True, True)])
    assert "(twin)" in site.browser("Root").get(f"{HERE}?show=attached").text
    exported = site.browser("Root").get("/set-up/birchwood/fleet.toml").text
    assert exported.count("twin = ") == 1
    assert send(site.browser("Root"), f"{HERE}/{second}", f"{HERE}/{second}/detach").status_code == 303
    assert (second, True, False) in history(site, "pot-03")


def test_only_what_a_quantity_can_be_of_is_offered(site: Site) -> None:
    level, air = heard(site, "level", 420), heard(site, "temperature", 21)
    page = said(site.browser("Root").get(f"{HERE}/{level}"))
    assert "East tank reservoir" in page
    assert "Pot 01" not in page
    assert confirm(site, level, "East tank") == 303
    tank = site.browser("Root").get("/set-up/birchwood/rooms/room-3/reservoir/east-tank")
    assert "At 420 mm it holds 111 l." in said(tank)  # where its sensor says that the water stands
    assert confirm(site, air, "Room 3") == 303
    assert "1 of 3 containers have a probe" not in said(site.browser("Root").get("/set-up/birchwood"))


def test_a_time_that_has_not_come_or_overlaps_is_refused_in_words(site: Site) -> None:
    channel = heard(site)
    for since in ("2199-01-01T08:00", "soon"):
        assert confirm(site, channel, "Pot 01", since=since) == 422
    assert confirm(site, channel, "Pot 01") == 303
    assert confirm(site, heard(site), "Pot 01", since="2020-01-01T08:00") == 422
    assert history(site, "pot-01") == [(channel, False, True)]


def test_no_channel_and_no_part_of_another_facility_can_be_named(site: Site) -> None:
    stand(site, "Saltmarsh Farm", "saltmarsh")
    mine, theirs = heard(site), heard(site, facility="saltmarsh")
    with site.connect() as conn:
        people.add_person(conn, "Vera", "manager", ["birchwood"], None)
        row = conn.execute(
            """SELECT k.id FROM container k JOIN room r ON r.id = k.room_id JOIN facility f ON f.id = r.facility_id
               WHERE f.slug = 'saltmarsh' LIMIT 1"""
        ).fetchone()
    assert row is not None
    pot: UUID = row[0]
    vera = site.browser("Vera")
    assert vera.get(f"{HERE}/{theirs}").status_code == 404
    assert vera.get(f"/set-up/saltmarsh/channels/{theirs}").status_code == 404
    assert vera.get(f"{HERE}/{mine}?to=container:{pot}").status_code == 404
    assert send(vera, HERE.removesuffix("/channels"), f"{HERE}/{mine}/attach", to=f"container:{pot}").status_code == 404
    assert send(vera, HERE.removesuffix("/channels"), f"{HERE}/{theirs}/detach").status_code == 404
    for path in (f"{HERE}/abc", f"{HERE}/{mine}?to=nonsense", f"{HERE}/99999999999"):
        assert vera.get(path).status_code == 404, path
