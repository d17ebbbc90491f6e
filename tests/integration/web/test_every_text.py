"""No page says anything that a catalogue was not asked for: each is read in a language of other letters."""

from __future__ import annotations

import re
from collections.abc import Iterator
from html.parser import HTMLParser
from itertools import count

import pytest
from babel import Locale

from tests.builders import pseudo
from tests.integration.web.conftest import Site, opened
from tests.integration.web.doors import knocks
from tests.integration.web.knock import Knock
from tests.integration.web.test_doors import Visitor, visitor
from wickwatch.web.permits import DOORS
from wickwatch.web.problems import for_programs

_NUMBER = count(1)

#: What is read by people: text, and these attributes.
_READ = ("aria-label", "title", "placeholder", "label", "alt", "data-said", "data-refused", "data-failed")

#: What is not: parts of programs, what is shown as it was written, choices that are names.
_UNREAD = ("script", "style", "code", "pre", "datalist")

#: What is said in every language: this program, others, and the standards' names and abbreviations.
_SAME = {
    "Wickwatch",
    "CSV",
    "PDF",
    "UTC",
    "JSON",
    "Parquet",
    "PostgreSQL",
    "TimescaleDB",
    "Python",
    "Europe/Oslo",
    "English",
    "Deutsch",
    "cbar",
    "CET",
    "urn:dev:mac:",
    "gw-",
}


#: What people and devices bring in: names and addresses that somebody gave, and what was said when it happened.
_BROUGHT = (
    *("facility.name", "facility.slug", "room.name", "room.slug", "reservoir.name", "reservoir.slug"),
    *("supply_line.name", "container.name", "container.medium", "gateway.slug", "device.urn", "channel.name"),
    *("person.name", "contact.address", "api_token.label", "invitation.label", "heartbeat.instance"),
    *("alarm.subject_name", "alarm.message", "out_of_service.name", "notice.title", "notice.address"),
)
_EACH = "SELECT DISTINCT {1}::text FROM {0}"

#: What a script puts in later, ends of devices' numbers, topics, names of files.
_DATA = re.compile(r"\{\w+\}|\([0-9a-f]{6}\)|https://[^\s,]+|wickwatch/1/\S+|\S+\.toml")


class _Page(HTMLParser):
    """The text of a page that people read, a line for each piece of it."""

    def __init__(self) -> None:
        super().__init__()
        self.lines: list[str] = []
        self._unread: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = dict(attrs)
        if tag in _UNREAD or given.get("class") == "as-written" or (self._unread and tag == self._unread[-1]):
            self._unread.append(tag)
        if not self._unread:
            self.lines += [value for name in _READ if (value := given.get(name))]

    def handle_endtag(self, tag: str) -> None:
        if self._unread and self._unread[-1] == tag:
            self._unread.pop()

    def handle_data(self, data: str) -> None:
        if not self._unread and data.strip():
            self.lines.append(data.strip())


@pytest.fixture(scope="module")
def house(plain_server: str) -> Iterator[Site]:
    with opened(plain_server) as site:
        yield site


@pytest.fixture
def reader(house: Site, monkeypatch: pytest.MonkeyPatch) -> Visitor:
    """Somebody who may do everything everywhere and reads the language of other letters."""
    pseudo.patch(monkeypatch)
    with house.connect() as conn:
        conn.execute("UPDATE facility SET language = 'de'")
    return visitor(house, f"Rhea {next(_NUMBER)}", "administrator")


def test_every_page_says_everything_in_the_readers_language(reader: Visitor) -> None:
    asked = knocks(reader.site, reader.name)
    read: dict[str, list[str]] = {}
    for door in sorted(DOORS):
        method, path = door.split()
        if method != "GET" or for_programs(path):
            continue
        answer = reader.knock(door, asked[door])
        if answer.headers.get("content-type", "").startswith("text/html"):
            page = _Page()
            page.feed(answer.text)
            read[door] = page.lines
    given = _written(reader.site) | _babels()
    left = {
        f"{door}: {', '.join(sorted(words))} in: {line[:90]}"
        for door, lines in read.items()
        for line in lines
        if (words := pseudo.never_looked_up(_DATA.sub("", line), given))
    }
    assert not left, "\n".join(sorted(left))


@pytest.mark.parametrize(
    ("path", "typed"),
    [
        ("/set-up/birchwood/rules", {"do": "save", "set_point_mbar": "90000", "low_hours": "x"}),
        ("/set-up/birchwood/rooms/room-03/add/reservoir", {"do": "save", "shape": "box", "outlet_mm": "-4"}),
        ("/set-up/birchwood/edit", {"do": "save", "zone": "Nowhere"}),
        ("/set-up/birchwood/people", {"name": "Mara", "role": "grower"}),
        ("/rota/birchwood/steps", {"minutes": "often"}),
        ("/me/password", {"former": "not that one", "wanted": "another one entirely"}),
        ("/me/contacts", {"way": "email", "address": "nobody"}),
        ("/rooms/00000000-0000-0000-0000-000000000000/work", {"kind": "checked", "subject": "room:x"}),
    ],
)
def test_what_is_wrong_with_a_form_is_said_in_the_readers_language(
    reader: Visitor, path: str, typed: dict[str, str]
) -> None:
    answer = reader.knock(f"POST {path}", Knock(path, typed))
    assert answer.status_code in (404, 422)
    page = _Page()
    page.feed(answer.text)
    given = _written(reader.site) | _babels() | {"Nowhere", "nobody", "urn:", *typed.values()}
    places = re.compile(r"(facility|room|container|reservoir|person) [\w-]+(, |: \w+)?|Europe/\w+")
    left = {word for line in page.lines for word in pseudo.never_looked_up(places.sub("", _DATA.sub("", line)), given)}
    assert left == set()


def _babels() -> set[str]:
    """Names of days, months and countries, which Babel has for the language that the letters are patched in for."""
    locale = Locale.parse(pseudo.READER.language)
    names = [locale.days["stand-alone"], locale.months["stand-alone"]]
    days = {name for each in names for width in ("wide", "abbreviated") for name in each[width].values()}
    return days | set(locale.territories.values())


def _written(site: Site) -> set[str]:
    """Every text that people or devices brought in, as far as pages show it."""
    with site.connect() as conn:
        found = {text for column in _BROUGHT for (text,) in conn.execute(_EACH.format(*column.split(".")))}
    return _SAME | {text for text in found if text and re.search(r"[A-Za-z]{2}", text)}
