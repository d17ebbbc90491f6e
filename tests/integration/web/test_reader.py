"""To whom pages speak: as a person chose, as the facility has it, or as a browser asks."""

from __future__ import annotations

import re
from concurrent.futures import ThreadPoolExecutor

import pytest

from tests.integration.web.conftest import Site
from wickwatch.web.reader import preferred


def test_what_a_person_chooses_holds_on_every_page_and_for_nobody_else(site: Site) -> None:
    mara, otto = site.browser("mara"), site.browser("otto")
    token = re.findall(r'name="form_token" value="(\w+)"', mara.get("/me").text)[0]
    form = {"language": "de", "tension_unit": "kPa", "volume_unit": "gal", "clock": "12h", "form_token": token}
    assert mara.post("/me/reading", data=form).status_code == 303
    page = mara.get("/me").text
    assert '<html lang="de">' in page
    assert "Sprache und Einheiten" in page
    assert "Language and units" in otto.get("/me").text


def test_what_can_not_be_chosen_is_refused(site: Site) -> None:
    mara = site.browser("mara")
    token = re.findall(r'name="form_token" value="(\w+)"', mara.get("/me").text)[0]
    assert mara.post("/me/reading", data={"tension_unit": "bar", "form_token": token}).status_code == 422


def test_who_chose_nothing_reads_as_the_facility_has_it(site: Site) -> None:
    with site.connect() as conn:
        conn.execute("UPDATE facility SET language = 'de'")
    assert "Sprache und Einheiten" in site.browser("mara").get("/me").text


def test_readers_of_two_languages_at_once_each_read_their_own(site: Site) -> None:
    with site.connect() as conn:
        conn.execute("UPDATE person SET language = 'de' WHERE name = 'Mara'")
    mara, otto = site.browser("mara"), site.browser("otto")
    with ThreadPoolExecutor(4) as several:
        read = list(several.map(lambda one: one.get("/").text, [mara, otto] * 10))
    assert all('<html lang="de">' in page for page in read[::2])
    assert all('<html lang="en">' in page for page in read[1::2])


def test_programs_are_answered_in_english_whatever_a_person_chose(site: Site) -> None:
    with site.connect() as conn:
        conn.execute("UPDATE person SET language = 'de'")
    found = site.program("mara").get("/api/v1/alarms", params={"limit": "none"}, headers={"Accept-Language": "de"})
    assert "valid integer" in found.json()["detail"]


# Invented wishes, as RFC 9110, section 12.5.4, has them written.
@pytest.mark.parametrize(
    ("wish", "found"),
    [
        ("de", "de"),
        ("de-AT,de;q=0.9,en;q=0.8", "de"),
        ("fr, de;q=0.5, en;q=0.9", "en"),
        ("de;q=0", "en"),
        ("", "en"),
        ("*", "en"),
        ("xx-!!;q=high, ,,;", "en"),
    ],
)
def test_an_unknown_browser_is_spoken_to_in_the_language_it_wants_most(wish: str, found: str) -> None:
    assert preferred(wish) == found


def test_a_sign_in_page_speaks_as_the_browser_asks(shown: Site) -> None:
    assert (
        '<html lang="de">'
        in shown.visitor(Accept="text/html").get("/sign-in", headers={"Accept-Language": "de-CH"}).text
    )
