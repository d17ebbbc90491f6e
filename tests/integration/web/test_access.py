"""Signing in and out, tokens, and requests that a browser was made to send."""

from __future__ import annotations

from datetime import timedelta

import pytest

from tests.builders.scene import PASSWORD
from tests.integration.web.conftest import NOW, Site, later, opened
from wickwatch.store import people, tokens, tries


def test_without_session_or_token_the_api_says_401_and_how(shown: Site) -> None:
    for headers in (
        {},
        {"Authorization": "Bearer nonsense"},
        {"Authorization": "Basic YTpi"},
        {"Authorization": "Bearer"},
    ):
        answer = shown.visitor(**headers).get("/api/v1/rooms")
        assert answer.status_code == 401
        assert answer.headers["content-type"] == "application/problem+json"
        assert answer.headers["www-authenticate"].startswith("Bearer")


def test_a_page_leads_to_the_sign_in_and_back(shown: Site) -> None:
    visitor = shown.visitor(Accept="text/html")
    answer = visitor.get("/alarms?show=over")
    assert answer.status_code == 303
    assert answer.headers["location"] == "/sign-in?next=%2Falarms%3Fshow%3Dover"
    assert 'value="/alarms?show=over"' in visitor.get(answer.headers["location"]).text
    form = {"name": "mara", "password": PASSWORD, "next": "/alarms?show=over"}
    signed = visitor.post("/sign-in", data=form)
    assert (signed.status_code, signed.headers["location"]) == (303, "/alarms?show=over")
    assert visitor.get("/alarms").status_code == 200


@pytest.mark.parametrize(
    "target", ["https://example.org/", "//example.org", "/\\example.org", "javascript:alert(1)", "/\n/x"]
)
def test_the_sign_in_leads_nowhere_else(shown: Site, target: str) -> None:
    form = {"name": "Mara", "password": PASSWORD, "next": target}
    assert shown.visitor().post("/sign-in", data=form).headers["location"] == "/"


def test_the_session_cookie_is_out_of_reach_of_scripts_and_other_sites(shown: Site) -> None:
    answer = shown.visitor().post("/sign-in", data={"name": "Mara", "password": PASSWORD})
    cookie = answer.headers["set-cookie"].lower()
    assert "httponly" in cookie
    assert "samesite=lax" in cookie
    assert "path=/" in cookie
    assert "secure" not in cookie.partition("wickwatch_known")[0]


def test_over_tls_cookies_never_leave_without_it_and_only_our_own_host_sets_them(plain_server: str) -> None:
    with opened(plain_server, base_url="https://watch.example.org") as site:
        answer = site.visitor().post("/sign-in", data={"name": "Mara", "password": PASSWORD})
    for cookie in answer.headers.get_list("set-cookie"):
        assert "; secure" in cookie.lower()
        assert "domain" not in cookie.lower()
    assert answer.headers["set-cookie"].startswith("__Host-wickwatch_session=")
    assert answer.headers["strict-transport-security"] == "max-age=31536000"


def test_what_the_database_keeps_of_a_session_opens_nothing(site: Site) -> None:
    browser = site.browser("Mara")
    with site.connect() as conn:
        rows = conn.execute("SELECT token_hash FROM session").fetchall()
    assert len(rows) == 1
    secret = browser.cookies["wickwatch_session"]
    assert secret.encode() != rows[0][0]
    stolen = site.visitor()
    stolen.cookies.set("wickwatch_session", rows[0][0].hex())
    assert stolen.get("/api/v1/rooms").status_code == 401


def test_signing_in_again_ends_the_session_from_before(site: Site) -> None:
    browser = site.browser("Mara")
    former = browser.cookies["wickwatch_session"]
    browser.post("/sign-in", data={"name": "Mara", "password": PASSWORD})
    assert browser.cookies["wickwatch_session"] != former
    old = site.visitor()
    old.cookies.set("wickwatch_session", former)
    assert old.get("/api/v1/rooms").status_code == 401
    assert browser.get("/api/v1/rooms").status_code == 200


def test_a_session_ends_when_it_was_not_used_for_two_weeks_and_lives_on_while_it_is(site: Site) -> None:
    browser = site.browser("Mara")
    for _ in range(4):
        later(site, days=10)
        assert browser.get("/api/v1/rooms", params={"limit": 1}).status_code == 200
    later(site, days=14, minutes=1)
    assert browser.get("/api/v1/rooms").status_code == 401


def test_a_session_ends_after_ninety_days_however_much_it_is_used(site: Site) -> None:
    browser = site.browser("Mara")
    for _ in range(8):
        later(site, days=11)
        assert browser.get("/api/v1/rooms", params={"limit": 1}).status_code == 200
    later(site, days=3)
    assert browser.get("/api/v1/rooms").status_code == 401


def test_after_five_wrong_passwords_even_the_right_one_waits_a_quarter_of_an_hour(site: Site) -> None:
    visitor = site.visitor()
    for _ in range(5):
        assert visitor.post("/sign-in", data={"name": "Mara", "password": "wrong, wrong"}).status_code == 401
    held = visitor.post("/sign-in", data={"name": "MARA", "password": PASSWORD})
    assert held.status_code == 429
    assert 0 < int(held.headers["retry-after"]) <= 900
    assert visitor.post("/sign-in", data={"name": "Otto", "password": PASSWORD}).status_code == 303
    later(site, minutes=15, seconds=1)
    assert visitor.post("/sign-in", data={"name": "Mara", "password": PASSWORD}).status_code == 303


def test_a_stranger_cannot_lock_somebody_out_from_elsewhere(site: Site) -> None:
    with site.connect() as conn:
        for _ in range(tries.TRIES_NAME_AND_ADDRESS + 1):
            tries.count_try(conn, "Mara", "203.0.113.7", NOW)
        assert tries.count_try(conn, "Mara", "203.0.113.7", NOW) is not None
        assert tries.count_try(conn, "Mara", "198.51.100.2", NOW) is None


def test_a_wrong_name_and_a_wrong_password_are_told_alike(site: Site) -> None:
    visitor = site.visitor()
    answers = [
        visitor.post("/sign-in", data={"name": name, "password": "x" * 12}) for name in ("Mara", "nobody", "", "\0")
    ]
    assert {answer.status_code for answer in answers} == {401}
    assert all("Name or password is not right." in answer.text for answer in answers)


def test_a_browser_that_signed_in_before_gets_in_whatever_strangers_try_elsewhere(site: Site) -> None:
    mine = site.visitor()
    assert mine.post("/sign-in", data={"name": "Mara", "password": PASSWORD}).status_code == 303
    with site.connect() as conn:
        for number in range(tries.TRIES_NAME):
            tries.count_try(conn, "Mara", f"203.0.113.{number}", NOW)
    assert site.visitor().post("/sign-in", data={"name": "Mara", "password": PASSWORD}).status_code == 429
    assert mine.post("/sign-in", data={"name": " MARA ", "password": PASSWORD}).status_code == 303
    stolen = site.visitor()
    stolen.cookies.set("wickwatch_known", mine.cookies["wickwatch_known"], domain="127.0.0.1", path="/sign-in")
    for _ in range(tries.TRIES_NAME_AND_ADDRESS):
        assert stolen.post("/sign-in", data={"name": "Mara", "password": "wrong, wrong"}).status_code == 401
    assert stolen.post("/sign-in", data={"name": "Mara", "password": PASSWORD}).status_code == 429
    assert stolen.post("/sign-in", data={"name": "Otto", "password": PASSWORD}).status_code == 303


def test_tries_from_one_ipv6_network_are_counted_together(site: Site) -> None:
    with site.connect() as conn:
        for number in range(tries.TRIES_NAME_AND_ADDRESS):
            assert tries.count_try(conn, "Mara", f"2001:db8:0:7::{number:x}", NOW) is None
        assert tries.count_try(conn, "Mara", "2001:db8:0:7:ffff::1", NOW) is not None
        assert tries.count_try(conn, "Mara", "2001:db8:0:8::1", NOW) is None
        assert tries.count_try(conn, "Mara", "::ffff:203.0.113.7", NOW) is None


def test_a_change_of_roles_ends_the_sessions_from_before_it(site: Site) -> None:
    mara, root = site.browser("Mara"), site.browser("Root")
    with site.connect() as conn:
        conn.execute(
            "UPDATE membership SET role = 'manager' WHERE person_id = %s",
            (site.scene.people["mara"],),
        )
    assert mara.get("/api/v1/rooms").status_code == 401
    assert root.get("/api/v1/rooms", params={"limit": 1}).status_code == 200


def test_a_person_sees_where_they_are_signed_in_and_ends_one_or_all_of_it(site: Site) -> None:
    here, phone, desk = site.browser("Mara"), site.visitor(**{"User-Agent": "x Mobile x"}), site.browser("Mara")
    phone.post("/sign-in", data={"name": "Mara", "password": PASSWORD})
    other = site.browser("Otto")
    page = here.get("/me").text
    assert page.count("Sign out there") == 2 * 2  # the button and what it is called
    assert "A computer, this one" in page
    action = page.partition("<b>A phone</b>")[0].rpartition('action="')[2].partition('"')[0]
    assert here.post(action, data={"form_token": form_token(page)}).status_code == 303
    assert phone.get("/api/v1/contacts").status_code == 401
    assert desk.get("/api/v1/contacts").status_code == 200
    assert other.post(action, data={"form_token": form_token(other.get("/me").text)}).status_code == 404
    assert here.post("/me/sessions/end", data={"form_token": form_token(page)}).headers["location"] == "/sign-in"
    assert [client.get("/api/v1/contacts").status_code for client in (here, desk, other)] == [401, 401, 200]


def test_signing_out_ends_the_session_in_the_database(site: Site) -> None:
    browser = site.browser("Mara")
    secret = browser.cookies["wickwatch_session"]
    assert browser.post("/sign-out", data={"form_token": form_token(browser.get("/").text)}).status_code == 303
    again = site.visitor()
    again.cookies.set("wickwatch_session", secret)
    assert again.get("/api/v1/rooms").status_code == 401


def test_somebody_disabled_is_out_at_once_by_session_and_by_token(site: Site) -> None:
    browser, program = site.browser("Mara"), site.program("Mara")
    with site.connect() as conn:
        people.disable(conn, "Mara", NOW)
    assert browser.get("/api/v1/rooms").status_code == 401
    assert program.get("/api/v1/rooms").status_code == 401
    assert site.visitor().post("/sign-in", data={"name": "Mara", "password": PASSWORD}).status_code == 401


def test_a_token_is_shown_once_works_and_is_ended(site: Site) -> None:
    browser = site.browser("Mara")
    made = browser.post("/me/tokens", data={"label": "my script", "form_token": form_token(browser.get("/me").text)})
    secret = made.text.partition("<pre>")[2].partition("</pre>")[0]
    assert secret.startswith("wickwatch_")
    assert secret not in browser.get("/me").text
    program = site.visitor(Authorization=f"Bearer {secret}")
    assert "never used" in browser.get("/me").text
    assert program.get("/api/v1/rooms").status_code == 200
    page = browser.get("/me").text
    assert "may only read; made" in page
    assert "last used <time" in page
    path = page.partition('action="/me/tokens/')[2].partition('"')[0]
    assert browser.post(f"/me/tokens/{path}", data={"form_token": form_token(page)}).status_code == 303
    assert program.get("/api/v1/rooms").status_code == 401


def test_a_token_with_an_end_ends(site: Site) -> None:
    with site.connect() as conn:
        token = tokens.new_token(conn, "Mara", "short", NOW + timedelta(hours=1))
    program = site.visitor(Authorization=f"Bearer {token}")
    assert program.get("/api/v1/rooms", params={"limit": 1}).status_code == 200
    later(site, hours=1)
    assert program.get("/api/v1/rooms").status_code == 401


def test_replacing_the_password_ends_every_other_session(site: Site) -> None:
    here, elsewhere = site.browser("Mara"), site.browser("Mara")
    form = {"former": PASSWORD, "wanted": "a longer one for today", "form_token": form_token(here.get("/me").text)}
    assert here.post("/me/password", data=form).status_code == 303
    assert here.get("/api/v1/rooms").status_code == 200
    assert elsewhere.get("/api/v1/rooms").status_code == 401
    assert site.visitor().post("/sign-in", data={"name": "Mara", "password": PASSWORD}).status_code == 401


@pytest.mark.parametrize(
    "headers",
    [
        {"Sec-Fetch-Site": "cross-site"},
        {"Sec-Fetch-Site": "same-site"},
        {"Origin": "https://example.org"},
        {"Origin": "null"},
    ],
)
def test_a_request_that_another_site_made_the_browser_send_is_refused(shown: Site, headers: dict[str, str]) -> None:
    browser = shown.browser("Mara")
    answer = browser.post(f"/api/v1/alarms/{shown.scene.alarms['drift']}/acknowledge", headers=headers)
    assert answer.status_code == 403
    assert browser.post("/sign-in", data={"name": "Mara", "password": PASSWORD}, headers=headers).status_code == 403


def test_our_own_pages_may_ask_with_a_cookie(site: Site) -> None:
    browser = site.browser("Mara")
    path = f"/api/v1/alarms/{site.scene.alarms['drift']}/acknowledge"
    assert browser.post(path, headers={"Origin": site.address, "Sec-Fetch-Site": "same-origin"}).status_code == 200


@pytest.mark.parametrize("token", ["", "00" * 64, "zz", "é", "ab" * 31])
def test_a_form_without_the_token_of_its_session_is_refused(shown: Site, token: str) -> None:
    browser = shown.browser("Mara")
    path = f"/alarms/{shown.scene.alarms['drift']}/acknowledge"
    assert browser.post(path, data={"form_token": token}).status_code == 403


def test_a_form_token_of_somebody_else_opens_nothing(shown: Site) -> None:
    other = form_token(shown.browser("Root").get("/").text)
    path = f"/alarms/{shown.scene.alarms['drift']}/acknowledge"
    assert shown.browser("Mara").post(path, data={"form_token": other}).status_code == 403


def form_token(page: str) -> str:
    """The token that the forms of a page carry."""
    return page.partition('name="form_token" value="')[2].partition('"')[0]
