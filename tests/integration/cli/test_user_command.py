"""`wickwatch user`: people and tokens, with passwords that are never part of a command line."""

from __future__ import annotations

from datetime import UTC, datetime

import psycopg
import pytest

from tests.integration.cli.conftest import Cli
from wickwatch.store import people, tokens
from wickwatch.store.connect import connect

PASSWORD = "correct horse"


@pytest.fixture
def database_url(plain_url: str) -> str:
    """One database is enough here: what is stored is tested on both elsewhere."""
    return plain_url


def fits(database_url: str, name: str, password: str) -> bool:
    with connect(database_url, "test") as conn:
        return people.password_fits(conn, name, password) is not None


def test_a_person_is_added_with_the_password_on_standard_input(cli: Cli, database_url: str) -> None:
    ran = cli("user", "add", "Kim", "--role", "grower", stdin=f"{PASSWORD}\nanother line\n")
    assert (ran.code, ran.out, ran.err) == (0, "Kim may sign in as grower\n", "")
    assert fits(database_url, "kim", PASSWORD)
    assert cli("user", "list").out == "Kim: grower in all facilities\n"


def test_a_password_is_made_up_and_printed_when_that_is_asked_for(cli: Cli, database_url: str) -> None:
    ran = cli("user", "add", "Kim", "--role", "viewer", "--generate")
    (line, _) = ran.out.splitlines()
    assert line.startswith("password: ")
    assert fits(database_url, "Kim", line.removeprefix("password: "))


def test_a_role_can_hold_in_some_facilities(fleet: Cli) -> None:
    fleet("user", "add", "Kim", "--role", "manager", "--facility", "birchwood", stdin=PASSWORD)
    assert fleet("user", "list").out == "Kim: manager in birchwood\n"
    ran = fleet("user", "add", "Lee", "--role", "manager", "--facility", "ash", stdin=PASSWORD)
    assert (ran.code, ran.err) == (1, "wickwatch user: facility is 'ash'; accepted: the slug of a facility in use\n")
    assert "Lee" not in fleet("user", "list").out


@pytest.mark.parametrize(
    ("name", "stdin", "said"),
    [
        ("Kim", "", "no password on standard input; give one as its first line, or --generate one"),
        ("Kim", "short\n", "password will not do; accepted: 8 to 256 characters"),
        ("kIM", PASSWORD, "name is 'kIM'; accepted: a name nobody has yet"),
        ("a\nb\x00", PASSWORD, "accepted: 1 to 100 printable characters"),
    ],
)
def test_a_person_that_can_not_be_added_is_refused_in_one_sentence(cli: Cli, name: str, stdin: str, said: str) -> None:
    cli("user", "add", "Kim", "--role", "viewer", stdin=PASSWORD)
    ran = cli("user", "add", name, "--role", "viewer", stdin=stdin)
    assert ran.code == 1
    assert said in ran.err
    assert len(ran.err.splitlines()) == 1
    assert len(cli("user", "list").out.splitlines()) == 1


def test_a_new_password_replaces_the_old_one(cli: Cli, database_url: str) -> None:
    cli("user", "add", "Kim", "--role", "viewer", stdin=PASSWORD)
    assert cli("user", "password", "Kim", stdin="another horse\r\n").code == 0
    assert not fits(database_url, "Kim", PASSWORD)
    assert fits(database_url, "Kim", "another horse")
    assert cli("user", "password", "Lee", stdin=PASSWORD).code == 1


def test_a_disabled_person_signs_in_no_longer_and_stays_listed(cli: Cli, database_url: str) -> None:
    cli("user", "add", "Kim", "--role", "viewer", stdin=PASSWORD)
    token = cli("user", "token", "Kim", "--label", "panel").out.strip()
    assert cli("user", "disable", "Kim").out == "Kim can't sign in any longer\n"
    assert not fits(database_url, "Kim", PASSWORD)
    with connect(database_url, "test") as conn:
        assert tokens.by_token(conn, token, datetime.now(UTC)) is None
    assert cli("user", "list").out.startswith("Kim: viewer in all facilities, disabled 2")


def test_a_token_is_printed_once_and_counts_for_its_days(cli: Cli, database_url: str) -> None:
    cli("user", "add", "Kim", "--role", "viewer", stdin=PASSWORD)
    token = cli("user", "token", "Kim", "--label", "panel", "--days", "30").out.strip()
    with connect(database_url, "test") as conn:
        holder = tokens.by_token(conn, token, datetime.now(UTC))
    assert holder is not None
    assert holder.name == "Kim"
    with psycopg.connect(database_url) as raw:
        assert raw.execute("SELECT label, (expires_at - now())::text LIKE '29 days%' FROM api_token").fetchall() == [
            ("panel", True)
        ]


def test_on_a_terminal_the_password_is_asked_for_twice(cli: Cli, monkeypatch: pytest.MonkeyPatch) -> None:
    answers = iter([PASSWORD, "another horse", PASSWORD, PASSWORD])
    monkeypatch.setattr("getpass.getpass", lambda prompt: next(answers))
    monkeypatch.setattr("wickwatch.cli.user.sys", Terminal())
    ran = cli("user", "add", "Kim", "--role", "viewer")
    assert (ran.code, ran.err) == (1, "wickwatch user: the two passwords differ; nothing was changed\n")
    assert cli("user", "add", "Kim", "--role", "viewer").code == 0


class Terminal:
    """A `sys` whose standard input is a terminal."""

    def __init__(self) -> None:
        self.stdin = self

    def isatty(self) -> bool:
        return True
