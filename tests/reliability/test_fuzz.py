"""Hundreds of requests to every call, by every kind of caller: no 5xx, no answer outside the description."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from tests.integration.web.conftest import Site, opened
from tests.integration.web.fuzz import fuzz
from wickwatch.store import tokens

EXAMPLES = 400


@pytest.fixture(scope="module")
def house(plain_server: str) -> Iterator[Site]:
    """One site, which whatever was asked before has changed."""
    with opened(plain_server) as site:
        yield site


@pytest.mark.timeout(3600)
@pytest.mark.parametrize(
    ("who", "scope"),
    [("nobody", ""), ("Otto", "read"), ("Mara", "write"), ("Ines", "admin"), ("Root", "read"), ("Root", "admin")],
)
def test_whatever_is_asked_of_any_call_the_answer_is_one_that_is_described(house: Site, who: str, scope: str) -> None:
    headers = {}
    if scope:
        with house.connect() as conn:
            headers["Authorization"] = f"Bearer {tokens.new_token(conn, who, 'fuzz', None, scope)}"
    asked = fuzz(house, headers, EXAMPLES, seed=1)
    print(f"\n{who} {scope}: {asked} requests")
