"""A database with nothing in it but its first administrator, behind a real server, and its forms filled in."""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from html import unescape
from uuid import UUID

import httpx

from tests.builders.scene import Scene
from tests.integration.web.conftest import Site
from tests.parts.web import serving
from wickwatch.fleet.document import parse
from wickwatch.store import fleet, people
from wickwatch.store.connect import connect

NOBODY = UUID(int=0)

CYLINDER = {"shape": "cylinder", "diameter_mm": "580", "height_mm": "900", "outlet_mm": "40", "head_mm": "30"}
CLOCK = {"zone": "Europe/Oslo"}
LIGHT = {"lights_on": "06:00", "lights_off": "18:00"}


@contextmanager
def bare_site(database_url: str) -> Iterator[Site]:
    """The site; its clock is the real one, since what pages attach may not begin in the future."""
    site = Site("", database_url, Scene(NOBODY, NOBODY, {}, {}, {}), datetime.now(UTC))
    with site.connect() as conn:
        people.add_person(conn, "Root", "administrator", None, None)
    with serving(database_url, lambda: datetime.now(UTC)) as address, site.stack:
        site.address = address
        yield site


def send(browser: httpx.Client, path: str, to: str = "", /, **typed: str) -> httpx.Response:
    """Open a page and send its form (or one to another address) with these fields."""
    return browser.post(to or path, data={"form_token": token(browser.get(path)), **typed})


def token(page: httpx.Response) -> str:
    """The token that forms of a page carry."""
    found = re.search(r'name="form_token" value="([0-9a-f]+)"', page.text)
    assert found is not None, page.text[:300]
    return found[1]


def said(page: httpx.Response) -> str:
    """The text of a page."""
    return " ".join(unescape(re.sub(r"<[^>]*>", " ", page.text)).split())


HOUSE = """
[[facility]]
slug = "{slug}"
name = "{name}"
zone = "Europe/Oslo"
  [[facility.room]]
  slug = "room-3"
  name = "Room 3"
  lights_on = "06:00"
  lights_off = "18:00"
    [[facility.room.reservoir]]
    slug = "east-tank"
    name = "East tank"
    shape = "cylinder"
    diameter_mm = 580
    height_mm = 900
    outlet_mm = 40
    head_mm = 30
    [[facility.room.line]]
    slug = "loop"
    name = "Loop"
    kind = "loop"
    reservoir = "east-tank"
"""
POT = """
    [[facility.room.container]]
    slug = "pot-0{n}"
    name = "Pot 0{n}"
    line = "loop"
    volume_l = 20
    medium = "coir"
    stands_for = 4
"""


def house(name: str = "Birchwood House", slug: str = "birchwood") -> str:
    """The fleet file of what `build` builds."""
    return HOUSE.format(name=name, slug=slug) + "".join(POT.format(n=n) for n in (1, 2, 3))


def stand(site: Site, name: str = "Birchwood House", slug: str = "birchwood") -> None:
    """Let the same stand there, by its fleet file."""
    with connect(site.database_url, "test") as conn:
        fleet.apply_declared(conn, parse(house(name, slug)))


def build(browser: httpx.Client, name: str = "Birchwood House", slug: str = "birchwood") -> None:
    """A facility with a room, a reservoir, a loop and three pots, by its forms."""
    for path, typed in (
        ("/new-facility", {"name": name, "slug": slug, **CLOCK}),
        (f"/set-up/{slug}/add-room", {"name": "Room 3", **LIGHT}),
        (f"/set-up/{slug}/rooms/room-3/add/reservoir", {"name": "East tank", **CYLINDER}),
        (f"/set-up/{slug}/rooms/room-3/add/line", {"name": "Loop", "reservoir": "east-tank", "kind": "loop"}),
        (
            f"/set-up/{slug}/rooms/room-3/add/container",
            {"name": "Pot", "line": "loop", "volume_l": "20", "medium": "coir", "stands_for": "4", "count": "3"},
        ),
    ):
        answer = send(browser, path, **typed)
        assert answer.status_code == 303, (path, said(answer))
