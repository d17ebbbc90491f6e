"""People on the set-up pages: added, given roles, and out of reach of another facility's administrator."""

from __future__ import annotations

import re
from collections.abc import Iterator
from uuid import UUID

import httpx
import pytest

from tests.integration.web.bare import bare_site, said, send, stand, token
from tests.integration.web.conftest import Site
from wickwatch.store import members, people

HERE = "/set-up/birchwood/people"


@pytest.fixture
def site(plain_url: str) -> Iterator[Site]:
    with bare_site(plain_url) as opened:
        stand(opened)
        with opened.connect() as conn:
            people.add_person(conn, "Ada", "administrator", ["birchwood"], None)
        yield opened


def id_of(site: Site, name: str) -> UUID:
    with site.connect() as conn:
        return people.person_named(conn, name)


def password(page: httpx.Response) -> str:
    found = re.search(r"<pre>([^<]+)</pre>", page.text)
    assert found is not None, page.text
    return found[1]


def test_a_person_is_added_with_a_role_and_a_password_that_is_shown_once(site: Site) -> None:
    ada = site.browser("Ada")
    answer = send(ada, HERE, name="Mara", role="grower", signs_in="yes")
    secret = password(answer)
    assert "Mara grower can't be called yet" in said(answer)
    assert secret not in ada.get(HERE).text
    with site.connect() as conn:
        mara = people.password_fits(conn, "Mara", secret)
        assert mara is not None
        assert [(each.slug, each.role) for each in people.facilities_of(conn, mara)] == [("birchwood", "grower")]
    assert send(ada, HERE, name="Otto", role="viewer").status_code == 303
    assert "Otto viewer, does not sign in" in said(ada.get(HERE))
    for name, role in (("mara", "grower"), ("", "viewer"), ("Zoe", "boss")):
        refused = send(ada, HERE, name=name, role=role)
        assert refused.status_code == 422, name
    assert "a name nobody has yet" in said(send(ada, HERE, name="MARA", role="grower"))


def test_a_role_is_changed_and_taken_away_but_never_ones_own(site: Site) -> None:
    ada = site.browser("Ada")
    send(ada, HERE, name="Mara", role="grower")
    mara, own = id_of(site, "Mara"), id_of(site, "Ada")
    assert send(ada, HERE, f"{HERE}/{mara}/role", role="manager").status_code == 303
    assert site.browser("Mara").get("/set-up/birchwood").status_code == 200
    renewed = send(ada, HERE, f"{HERE}/{mara}/password")
    with site.connect() as conn:
        assert people.password_fits(conn, "Mara", password(renewed)) == mara
    assert send(ada, HERE, f"{HERE}/{mara}/remove").status_code == 303
    with site.connect() as conn:
        assert people.facilities_of(conn, mara) == []
    for what in ("role", "remove", "password"):
        assert send(ada, HERE, f"{HERE}/{own}/{what}", role="viewer").status_code == 409, what


def test_nobody_of_another_facility_is_seen_or_changed_and_no_password_of_theirs_renewed(site: Site) -> None:
    ada = site.browser("Ada")
    stand(site, "Saltmarsh Farm", "saltmarsh")
    with site.connect() as conn:
        people.add_person(conn, "Ines", "grower", ["saltmarsh"], None)
        people.add_person(conn, "Both", "grower", ["birchwood", "saltmarsh"], None)
        people.add_person(conn, "Vera", "manager", ["birchwood"], None)
    page = said(ada.get(HERE))
    assert "Ines" not in page
    assert "Root administrator of every facility" in page
    ines, both, everywhere = (id_of(site, name) for name in ("Ines", "Both", "Root"))
    for who in (ines, everywhere):
        for what in ("role", "remove", "password"):
            assert send(ada, HERE, f"{HERE}/{who}/{what}", role="viewer").status_code == 404, what
    assert send(ada, HERE, f"{HERE}/{both}/password").status_code == 409
    assert send(ada, HERE, f"{HERE}/{both}/remove").status_code == 303
    with site.connect() as conn:
        assert [each.slug for each in people.facilities_of(conn, both)] == ["saltmarsh"]
    vera = site.browser("Vera")
    assert "An administrator of this facility adds people" in said(vera.get(HERE))
    mine = {"form_token": token(vera.get(HERE))}
    for path in (HERE, f"{HERE}/{both}/role", f"{HERE}/{both}/remove", f"{HERE}/{both}/password"):
        assert vera.post(path, data={**mine, "name": "X", "role": "administrator"}).status_code == 403, path
    with site.connect() as conn:
        facility = next(each for each in people.facilities_of(conn, everywhere) if each.slug == "birchwood")
        assert [each.name for each in members.of_facility(conn, facility.id)] == ["Ada", "Root", "Vera"]
