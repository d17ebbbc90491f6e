"""People on the set-up pages: added, given roles, and out of reach of another facility's administrator."""

from __future__ import annotations

import re
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, timedelta
from urllib.parse import unquote, urlsplit
from uuid import UUID

import httpx
import pytest

from tests.builders import place
from tests.integration.web.bare import bare_site, said, send, stand, token
from tests.integration.web.conftest import Site
from tests.parts.web import SECRET_KEY
from wickwatch.store import members, people
from wickwatch.web import own_password

HERE = "/set-up/birchwood/people"
CHOSEN = "a word of one's own"


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


def shown_once(page: httpx.Response) -> str:
    """The path of the address that a page shows this once."""
    found = re.search(r"<pre>([^<]+)</pre>", page.text)
    assert found is not None, page.text
    return urlsplit(found[1]).path


def has_chosen(site: Site, page: httpx.Response) -> None:
    """Somebody opens the link that a page shows, and chooses a password."""
    assert send(site.visitor(Accept="text/html"), shown_once(page), wanted=CHOSEN).status_code == 303


def test_a_person_is_added_with_a_role_and_chooses_a_password_at_a_link_that_is_shown_once(site: Site) -> None:
    ada, newcomer = site.browser("Ada"), site.visitor(Accept="text/html")
    answer = send(ada, HERE, name="Mara", role="grower", signs_in="yes")
    link = shown_once(answer)
    assert "Mara@birchwood grower, does not sign in can't be called yet" in said(answer)
    assert link not in ada.get(HERE).text
    assert "by the name Mara@birchwood" in said(newcomer.get(link))
    assert send(newcomer, link, wanted="short").status_code == 422
    assert send(newcomer, link, wanted="a word of my own").headers["location"] == "/me"
    assert "Mara@birchwood" in said(newcomer.get("/me"))
    assert "Mara@birchwood grower can't be called yet" in said(ada.get(HERE))
    with site.connect() as conn:
        mara = people.password_fits(conn, "Mara@birchwood", "a word of my own")
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
    has_chosen(site, send(ada, HERE, name="Mara", role="grower", signs_in="yes"))
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


def test_managers_give_a_mail_address_to_whoever_does_not_sign_in_at_home_and_nowhere_else(site: Site) -> None:
    stand(site, "Saltmarsh Farm", "saltmarsh")
    with site.connect() as conn:
        people.add_person(conn, "Vera", "manager", ["birchwood"], None)
        people.set_sign_in_address(conn, "Vera", "vera@example.org")
        people.add_person(conn, "Gus", "grower", ["birchwood"], "a word of his own")
        duty = people.add_person(conn, "Duty phone", "grower", ["birchwood"], None)
        theirs = people.add_person(conn, "Their phone", "grower", ["saltmarsh"], None)
        shared = people.add_person(conn, "Shared phone", "grower", ["birchwood", "saltmarsh"], None)
    vera, gus = site.browser("Vera"), site.browser("Gus")
    assert send(vera, HERE, f"{HERE}/{duty}/mail", address="duty@example.org").status_code == 303
    assert "Duty phone grower, does not sign in called by e-mail" in said(vera.get(HERE))
    for who, status in ((theirs, 404), (shared, 409), (id_of(site, "Gus"), 409), (id_of(site, "Vera"), 409)):
        assert send(vera, HERE, f"{HERE}/{who}/mail", address="vera@example.org").status_code == status
    there = f"/set-up/saltmarsh/people/{theirs}/mail"
    assert send(vera, HERE, there, address="vera@example.org").status_code == 404
    assert send(gus, "/me", f"{HERE}/{duty}/mail", address="gus@example.org").status_code == 403
    with site.connect() as conn:
        given = conn.execute("SELECT person_id, address FROM contact").fetchall()
    assert given == [(duty, "duty@example.org")]


def test_an_administrator_of_all_facilities_gives_names_as_they_are_typed(site: Site) -> None:
    root = site.browser("Root")
    assert "The link for Mara" in said(send(root, HERE, name="Mara", role="grower", signs_in="yes"))
    assert "a name nobody has yet" in said(send(root, HERE, name="MARA", role="grower"))


@pytest.mark.parametrize("signs_in", ["yes", ""])
def test_adding_a_person_answers_the_same_whether_or_not_anybody_elsewhere_has_that_name(
    site: Site, ines: httpx.Client, signs_in: str
) -> None:
    ada = site.browser("Ada")

    def answer(name: str) -> tuple[int, str]:
        told = send(ada, HERE, name=name, role="grower", signs_in=signs_in)
        secret = shown_once(told) if signs_in else "…"
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
    has_chosen(site, send(ada, HERE, f"{HERE}/{mara}/password"))
    with site.connect() as conn:
        assert people.password_fits(conn, "Mara@birchwood", CHOSEN) == mara
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


def test_what_an_administrator_sees_and_is_answered_is_the_same_for_somebody_with_a_role_elsewhere(site: Site) -> None:
    stand(site, "Saltmarsh Farm", "saltmarsh")
    with site.connect() as conn:
        for name, facilities in (("Mono", ["birchwood"]), ("Both", ["birchwood", "saltmarsh"])):
            people.add_person(conn, name, "grower", facilities, "a word of their own")
            people.add_person(conn, f"{name} by provider", "grower", facilities, None)
            people.set_sign_in_address(conn, f"{name} by provider", f"{name}@example.org")
    ada = site.browser("Ada")

    def answers(name: str) -> list[tuple[int, str]]:
        who = str(id_of(site, name))
        lines = re.findall(r"<li>.*?</li>", ada.get(HERE).text, re.DOTALL)
        (line,) = (each for each in lines if f">{name}</b>" in each)
        sent = [
            send(ada, HERE, f"{HERE}/{who}/{what}", role="viewer", address="ada@example.org")
            for what in ("password", "mail", "role", "remove", "password")
        ]
        told = [(200, line), *((each.status_code, each.text) for each in sent)]
        return [(status, _bare(text).replace(who, "…").replace(name, "…")) for status, text in told]

    mono = answers("Mono")
    assert [status for status, _ in mono] == [200, 409, 409, 303, 303, 404]
    assert answers("Both") == mono
    assert answers("Mono by provider") == answers("Both by provider") == mono


def _bare(text: str) -> str:
    """An answer without the token of its forms, which is masked anew each time."""
    return re.sub(r'name="form_token" value="\w+"', "…", text)


def test_a_link_to_choose_a_password_holds_once_a_week_and_until_the_password_is_replaced(site: Site) -> None:
    ada, root = site.browser("Ada"), site.browser("Root")
    with site.connect() as conn:
        zoe = people.add_person(conn, "Zoe", "grower", ["birchwood"], None)
        later = own_password.token(conn, SECRET_KEY, zoe, datetime.now(UTC) + timedelta(hours=1))
    first, second = shown_once(send(ada, HERE, f"{HERE}/{zoe}/password")), f"/password/{later}"
    visitor = site.visitor(Accept="text/html")
    pages = {link: token(visitor.get(link)) for link in (first, second)}
    had = site.browser("Zoe")
    assert had.get("/me").status_code == 200
    assert visitor.post(first, data={"form_token": pages[second], "wanted": CHOSEN}).status_code == 403
    assert visitor.post(first, data={"form_token": pages[first], "wanted": CHOSEN}).status_code == 303
    assert had.get("/me").status_code == 303  # to the sign-in
    for link in (first, second):
        assert site.visitor().get(link).status_code == 404
        assert visitor.post(link, data={"form_token": pages[link], "wanted": "another word"}).status_code == 404
    assert send(ada, HERE, f"{HERE}/{zoe}/password").status_code == 409
    renewed = shown_once(send(root, HERE, f"{HERE}/{zoe}/password"))
    assert site.visitor().get(renewed).status_code == 200
    said, _dot, signature = renewed.rpartition(".")
    forged = f"{said}.{'A' if signature[0] != 'A' else 'B'}{signature[1:]}"  # the last of base64 holds spare bits
    assert site.visitor().get(forged).status_code == 404
    with site.connect() as conn:
        assert people.password_fits(conn, "Zoe", CHOSEN) == zoe
        late = own_password.token(conn, SECRET_KEY, zoe, datetime.now(UTC) - own_password.LASTS)
        people.set_password(conn, "Zoe", "forgotten at once")
    for link in (renewed, f"/password/{late}", "/password/nothing"):
        assert site.visitor().get(link).status_code == 404, link
    newest = shown_once(send(root, HERE, f"{HERE}/{zoe}/password"))
    with site.connect() as conn:
        people.disable(conn, "Zoe", datetime.now(UTC))
    assert site.visitor().get(newest).status_code == 404


def test_of_two_who_use_a_link_at_once_one_chooses_the_password(site: Site) -> None:
    link = shown_once(send(site.browser("Ada"), HERE, name="Mara", role="grower", signs_in="yes"))
    words = ["the word of one", "the word of another"]
    visitors = [site.visitor(Accept="text/html") for _ in words]
    tokens = [token(each.get(link)) for each in visitors]
    with ThreadPoolExecutor(2) as pool:
        tries = [
            pool.submit(each.post, link, data={"form_token": form, "wanted": word})
            for each, form, word in zip(visitors, tokens, words, strict=True)
        ]
    answered = [each.result().status_code for each in tries]
    assert sorted(answered) == [303, 404]
    with site.connect() as conn:
        fits = [people.password_fits(conn, "Mara@birchwood", word) is not None for word in words]
    assert fits == [status == 303 for status in answered]


def invited(browser: httpx.Client, **fields: str) -> str:
    """The path of a new invitation."""
    answer = send(browser, HERE, f"{HERE}/invitations", **{"label": "Ines", "role": "grower"} | fields)
    assert answer.status_code == 200
    return shown_once(answer)


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
    texts = [re.sub(r"Ines|Nobody", "…", said(answer).replace(shown_once(answer), "")) for answer in answers]
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
