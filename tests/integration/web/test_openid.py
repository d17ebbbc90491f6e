"""Signing in by an OpenID provider: a real one, that does right and does wrong."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any

import httpx
import pytest
from joserfc import jwt
from joserfc.jwk import OctKey, RSAKey

from tests.integration.web.conftest import Site, later, opened
from tests.parts import openid
from tests.parts.openid import OpenId
from wickwatch.store import people


@dataclass
class Vouched:
    """A site that takes sign-ins by a provider, and that provider; Mara and Otto are known to it."""

    site: Site
    provider: OpenId

    def leave(self, visitor: httpx.Client, next: str = "/") -> str:
        """Where the provider is, for a visitor who asks for it."""
        answer = visitor.get("/sign-in/openid", params={"next": next})
        assert answer.status_code == 303, answer.text
        return answer.headers["location"]

    def say_yes(self, address: str) -> str:
        """Where the provider leads back to, once its person said yes."""
        answer = httpx.get(address)
        assert answer.status_code == 302, answer.text
        return answer.headers["location"]

    def come_back(self, visitor: httpx.Client | None = None, next: str = "/") -> httpx.Response:
        """All of it, as a browser does it."""
        who = visitor or self.site.visitor(Accept="text/html")
        return who.get(self.say_yes(self.leave(who, next)))


@pytest.fixture
def vouched(plain_server: str) -> Iterator[Vouched]:
    """The two of them."""
    sites: list[Site] = []
    with openid.running(lambda: sites[0].now) as provider:
        given = {"openid_issuer": provider.issuer, "openid_client_id": openid.CLIENT}
        with opened(plain_server, **given, openid_client_secret=openid.SECRET) as site:
            sites.append(site)
            provider.redirect_uri = f"{site.address}/sign-in/openid/back"
            with site.connect() as conn:
                people.set_sign_in_address(conn, "Mara", "Mara@example.org")
            yield Vouched(site, provider)


def signed_in(site: Site, visitor: httpx.Client) -> bool:
    return visitor.get("/api/v1/contacts").status_code == 200


def sessions(site: Site) -> int:
    with site.connect() as conn:
        row = conn.execute("SELECT count(*) FROM session").fetchone()
    assert row is not None
    return int(row[0])


def test_a_person_that_the_provider_vouches_for_is_signed_in_and_led_where_they_wanted(vouched: Vouched) -> None:
    visitor = vouched.site.visitor(Accept="text/html")
    assert "Sign in by 127.0.0.1" in visitor.get("/sign-in?next=%2Falarms").text
    answer = vouched.come_back(visitor, "/alarms")
    assert (answer.status_code, answer.headers["location"]) == (303, "/alarms")
    assert "Mara" in visitor.get("/me").text
    with vouched.site.connect() as conn:
        assert conn.execute("SELECT who, via, action FROM audit_entry").fetchall() == [
            ("Mara", "page", "GET /sign-in/openid/back")
        ]


def test_what_is_known_of_the_person_may_stand_apart_from_the_token(vouched: Vouched) -> None:
    vouched.provider.apart = True
    assert vouched.come_back().status_code == 303
    assert "/userinfo" in vouched.provider.asked


@pytest.mark.parametrize(
    ("says", "said"),
    [
        ({"email": "mara@example.org", "email_verified": False}, "that it has verified"),
        ({"email": "mara@example.org"}, "that it has verified"),
        ({"email": "mara@example.org", "email_verified": "true"}, "that it has verified"),
        ({}, "that it has verified"),
        ({"email": "stranger@example.org", "email_verified": True}, "Nobody here signs in by the mail address"),
    ],
)
def test_an_address_that_is_not_verified_or_nobodys_opens_nothing_and_adds_nobody(
    vouched: Vouched, says: dict[str, Any], said: str
) -> None:
    vouched.provider.says = says
    with vouched.site.connect() as conn:
        before = [person.name for person in people.everyone(conn)]
    answer = vouched.come_back()
    assert answer.status_code == 403
    assert said in answer.text
    assert sessions(vouched.site) == 0
    with vouched.site.connect() as conn:
        assert [person.name for person in people.everyone(conn)] == before


def test_somebody_disabled_is_not_let_in(vouched: Vouched) -> None:
    with vouched.site.connect() as conn:
        people.disable(conn, "Mara", vouched.site.now)
    assert vouched.come_back().status_code == 403
    assert sessions(vouched.site) == 0


def _with(**claims: Any) -> Callable[[dict[str, Any], dict[str, Any]], None]:
    def twist(header: dict[str, Any], said: dict[str, Any]) -> None:
        said.update(claims)

    return twist


def _by_another_key(header: dict[str, Any], claims: dict[str, Any]) -> str:
    return jwt.encode(header, claims, RSAKey.generate_key(2048))


def _by_our_secret(header: dict[str, Any], claims: dict[str, Any]) -> str:
    key = OctKey.import_key(openid.SECRET * 2)
    return jwt.encode({"alg": "HS256", "kid": "one"}, claims, key, algorithms=["HS256"])


def _unsigned(header: dict[str, Any], claims: dict[str, Any]) -> str:
    import base64
    import json

    parts = ({"alg": "none"}, claims)
    return ".".join([*(base64.urlsafe_b64encode(json.dumps(p).encode()).rstrip(b"=").decode() for p in parts), ""])


@pytest.mark.parametrize(
    "twist",
    [
        _with(nonce="of another sign-in"),
        _with(iss="https://another.example.org"),
        _with(aud=["another program"]),
        _with(aud=["wickwatch", "another"], azp="another"),
        _with(exp=1),
        _with(at_hash="of another token"),
        _by_another_key,
        _by_our_secret,
        _unsigned,
    ],
    ids=["nonce", "issuer", "audience", "party", "time", "access token", "key", "our secret", "unsigned"],
)
def test_a_token_that_proves_nothing_opens_nothing(vouched: Vouched, twist: openid.Twist) -> None:
    vouched.provider.twist = twist
    answer = vouched.come_back()
    assert answer.status_code == 403
    assert "does not prove who you are" in answer.text
    assert sessions(vouched.site) == 0


def test_an_answer_is_good_in_the_browser_that_asked_once_and_for_ten_minutes(vouched: Vouched) -> None:
    asked, other = (vouched.site.visitor(Accept="text/html") for _ in range(2))
    back = vouched.say_yes(vouched.leave(asked))
    assert other.get(back).status_code == 403  # a link that somebody was made to follow
    vouched.leave(other)
    assert "belongs to another sign-in" in other.get(back).text
    changed = back.replace("state=", "state=x")
    assert asked.get(changed).status_code == 403
    back = vouched.say_yes(vouched.leave(asked))
    kept = dict(asked.cookies)
    assert asked.get(back).status_code == 303
    again = vouched.site.visitor(Accept="text/html")
    again.cookies.update(kept)
    assert again.get(back).status_code == 403  # the code was used
    late = vouched.site.visitor(Accept="text/html")
    back = vouched.say_yes(vouched.leave(late))
    later(vouched.site, minutes=10)
    assert "took too long" in late.get(back).text


def test_without_the_verifier_that_only_the_asking_browser_holds_a_code_is_worth_nothing(vouched: Vouched) -> None:
    asked = vouched.site.visitor(Accept="text/html")
    code = httpx.URL(vouched.say_yes(vouched.leave(asked))).params["code"]
    form = {"grant_type": "authorization_code", "code": code, "redirect_uri": vouched.provider.redirect_uri}
    answer = httpx.post(f"{vouched.provider.issuer}/token", data=form, auth=(openid.CLIENT, openid.SECRET))
    assert answer.status_code == 400


def test_somebody_who_says_no_is_told_so(vouched: Vouched) -> None:
    vouched.provider.refuses = True
    answer = vouched.come_back()
    assert answer.status_code == 403
    assert "The provider did not let you in." in answer.text


def test_a_provider_that_is_away_or_is_another_one_is_said_on_the_form(vouched: Vouched) -> None:
    vouched.provider.calls_itself = "https://another.example.org"
    answer = vouched.site.visitor(Accept="text/html").get("/sign-in/openid")
    assert answer.status_code == 503
    assert "The sign-in by 127.0.0.1 does not answer" in answer.text
    assert 'name="password"' in answer.text


def test_where_no_provider_is_named_there_is_nothing_of_it(shown: Site) -> None:
    assert "Sign in by" not in shown.visitor().get("/sign-in").text
    assert shown.visitor().get("/sign-in/openid").status_code == 404
    assert shown.visitor().get("/sign-in/openid/back").status_code == 404
