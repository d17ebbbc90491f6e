"""People on the set-up pages: added, given roles, and out of reach of another facility's administrator."""

from __future__ import annotations

import re
from collections.abc import Iterator
from urllib.parse import unquote, urlsplit
from uuid import UUID

import httpx
import pytest

from tests.builders import place
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
    assert "Mara@birchwood grower can't be called yet" in said(answer)
    assert secret not in ada.get(HERE).text
    with site.connect() as conn:
        mara = people.password_fits(conn, "Mara@birchwood", secret)
        assert mara is not None
        assert [(each.slug, each.role) for each in people.facilities_of(conn, mara)] == [("birchwood", "grower")]
    assert send(ada, HERE, name="Otto", role="viewer").status_code == 303
    assert "Otto@birchwood viewer, does not sign in" in said(ada.get(HERE))
    for name, role in (("mara", "grower"), ("mara@birchwood", "grower"), ("", "viewer"), ("Zoe", "boss")):
        refused = send(ada, HERE, name=name, role=role)
        assert refused.status_code == 422, name
    assert "a name nobody has yet" in said(send(ada, HERE, name="ADA", role="grower"))


def test_somebody_who_does_not_sign_in_is_called_by_the_mail_address_that_the_administrator_gives(site: Site) -> None:
    ada = site.browser("Ada")
    send(ada, HERE, name="Duty phone", role="grower")
    send(ada, HERE, name="Mara", role="grower", signs_in="yes")
    duty, mara = id_of(site, "Duty phone@birchwood"), id_of(site, "Mara@birchwood")
    for address in ("wrong@example.org", "duty@example.org", "duty@example.org"):
        assert send(ada, HERE, f"{HERE}/{duty}/mail", address=address).status_code == 303
    page = ada.get(HERE)
    assert "Duty phone@birchwood grower, does not sign in called by e-mail" in said(page)
    assert 'value="duty@example.org"' in page.text
    assert "wrong@example.org" not in page.text
    assert send(ada, HERE, f"{HERE}/{duty}/mail", address="nowhere").status_code == 422
    assert send(ada, HERE, f"{HERE}/{mara}/mail", address="mara@example.org").status_code == 409
    assert send(ada, HERE, f"{HERE}/{duty}/mail", address="").status_code == 303
    assert "called by e-mail" not in said(ada.get(HERE))


def test_an_administrator_of_all_facilities_gives_names_as_they_are_typed(site: Site) -> None:
    root = site.browser("Root")
    assert "The password of Mara" in said(send(root, HERE, name="Mara", role="grower", signs_in="yes"))
    assert "a name nobody has yet" in said(send(root, HERE, name="MARA", role="grower"))


@pytest.mark.parametrize("signs_in", ["yes", ""])
def test_adding_a_person_answers_the_same_whether_or_not_anybody_elsewhere_has_that_name(
    site: Site, ines: httpx.Client, signs_in: str
) -> None:
    ada = site.browser("Ada")

    def answer(name: str) -> tuple[int, str]:
        told = send(ada, HERE, name=name, role="grower", signs_in=signs_in)
        secret = password(told) if signs_in else "…"
        added = str(id_of(site, f"{name}@birchwood"))
        page = re.sub(r'name="form_token" value="\w+"', "…", told.text + ada.get(HERE).text)  # new in each answer
        assert send(ada, HERE, f"{HERE}/{added}/remove").status_code == 303
        return told.status_code, page.replace(secret, "…").replace(added, "…").replace(name, "…")

    assert ines.get("/").status_code == 200
    assert answer("Ines") == answer("Inez")


def test_a_role_is_changed_and_taken_away_but_never_ones_own(site: Site) -> None:
    ada = site.browser("Ada")
    send(ada, HERE, name="Mara", role="grower")
    mara, own = id_of(site, "Mara@birchwood"), id_of(site, "Ada")
    assert send(ada, HERE, f"{HERE}/{mara}/role", role="manager").status_code == 303
    assert site.browser("Mara@birchwood").get("/set-up/birchwood").status_code == 200
    renewed = send(ada, HERE, f"{HERE}/{mara}/password")
    with site.connect() as conn:
        assert people.password_fits(conn, "Mara@birchwood", password(renewed)) == mara
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


def invited(browser: httpx.Client, **fields: str) -> str:
    """The path of a new invitation."""
    answer = send(browser, HERE, f"{HERE}/invitations", **{"label": "Ines", "role": "grower"} | fields)
    assert answer.status_code == 200
    return urlsplit(password(answer)).path


@pytest.fixture
def ines(site: Site) -> httpx.Client:
    """Somebody with an account of another facility."""
    with site.connect() as conn:
        place.facility(conn, "saltmarsh", "Saltmarsh Farm")
        people.add_person(conn, "Ines", "manager", ["saltmarsh"], None)
    return site.browser("Ines")


def test_somebody_of_another_facility_accepts_a_role_here_once_and_keeps_their_own(
    site: Site, ines: httpx.Client
) -> None:
    ada = site.browser("Ada")
    link = invited(ada)
    assert "Invitations not yet accepted Ines grower" in said(ada.get(HERE))
    assert "Birchwood" not in said(ines.get("/set-up"))
    assert "Ada offers you the role grower" in said(ines.get(link))
    assert send(ines, link, f"{link}/accept").status_code == 303
    with site.connect() as conn:
        seen = people.facilities_of(conn, id_of(site, "Ines"))
    assert [(each.slug, each.role) for each in seen] == [("birchwood", "grower"), ("saltmarsh", "manager")]
    page = said(ada.get(HERE))
    assert "Ines grower" in page
    assert "saltmarsh" not in page.lower()
    assert "Invitations not yet accepted" not in page
    for again in (ada, ines):
        assert again.get(link).status_code == 404


def test_making_an_invitation_answers_the_same_whether_or_not_anybody_has_that_name(
    site: Site, ines: httpx.Client
) -> None:
    ada = site.browser("Ada")
    answers = [send(ada, HERE, f"{HERE}/invitations", label=name, role="viewer") for name in ("Ines", "Nobody")]
    texts = [re.sub(r"Ines|Nobody", "…", said(answer).replace(password(answer), "")) for answer in answers]
    assert ines.get("/").status_code == 200
    # The second page lists both invitations: what was answered to the form itself is the same.
    assert texts[0].partition("People")[2][:400] == texts[1].partition("People")[2][:400]


def test_an_invitation_leads_through_the_sign_in_and_holds_no_longer_than_its_maker_and_its_week(
    site: Site, ines: httpx.Client
) -> None:
    ada = site.browser("Ada")
    link, back = invited(ada), invited(ada, label="For nobody")
    assert unquote(site.visitor(Accept="text/html").get(link).headers["location"]) == f"/sign-in?next={link}"
    taken_back = re.search(r"/people/invitations/([0-9a-f-]{36})/end", ada.get(HERE).text)
    assert taken_back is not None
    assert send(ada, HERE, f"{HERE}/invitations/{taken_back[1]}/end").status_code == 303
    assert ines.get(back).status_code == 404
    assert ines.get(link).status_code == 200
    with site.connect() as conn:
        conn.execute("UPDATE membership SET role = 'manager' WHERE person_id = %s", (id_of(site, "Ada"),))
    assert ines.get(link).status_code == 404
    with site.connect() as conn:
        conn.execute("UPDATE membership SET role = 'administrator' WHERE person_id = %s", (id_of(site, "Ada"),))
    assert ines.get(link).status_code == 200
    with site.connect() as conn:
        conn.execute("UPDATE invitation SET expires_at = created_at")
    assert ines.get(link).status_code == 404


def test_whoever_has_a_role_here_changes_it_by_no_invitation(site: Site) -> None:
    ada = site.browser("Ada")
    link = invited(ada, role="viewer")
    assert "You have the role administrator there already" in said(ada.get(link))
    assert send(ada, "/me", f"{link}/accept").status_code == 409
