"""People in the store: what can be added, and what is refused in a sentence."""

from __future__ import annotations

from datetime import UTC, datetime

import psycopg
import pytest
from argon2 import Parameters, PasswordHasher, Type, extract_parameters

from tests.builders import place
from wickwatch.errors import InputError
from wickwatch.store import access, passwords, people, tokens

NOW = datetime(2026, 11, 25, 9, 30, tzinfo=UTC)


def test_people_are_listed_by_name_with_their_roles(database_url: str) -> None:
    with psycopg.connect(database_url) as conn:
        place.facility(conn, "birchwood")
        people.add_person(conn, "  Zoe   Marsh ", "manager", ["birchwood"], None)
        people.add_person(conn, "anton", "administrator", None, "a good password")
        people.disable(conn, "ZOE MARSH", NOW)
        found = people.everyone(conn)
    assert [(person.name, person.disabled_at) for person in found] == [("anton", None), ("Zoe Marsh", NOW)]
    assert found[0].memberships == (people.Membership("administrator", None),)
    assert found[1].memberships == (people.Membership("manager", "birchwood"),)


def test_passwords_are_kept_as_argon2id_hashes_only(plain_url: str) -> None:
    with psycopg.connect(plain_url) as conn:
        person = people.add_person(conn, "Anton", "viewer", None, "a good password")
        row = conn.execute("SELECT password_hash FROM person").fetchone()
        assert row is not None
        assert row[0].startswith("$argon2id$v=19$m=65536,t=3,p=4$")
        assert people.password_fits(conn, "ANTON", "a good password") == person
        assert people.password_fits(conn, "Anton", "a good Password") is None
        people.set_password(conn, "anton", "another password")
        assert people.password_fits(conn, "Anton", "a good password") is None
        assert people.password_fits(conn, "Anton", "another password") == person


def test_a_hash_with_weaker_parameters_is_renewed_at_the_next_sign_in(plain_url: str) -> None:
    weak = PasswordHasher(time_cost=1, memory_cost=64, parallelism=1).hash("a good password")
    with psycopg.connect(plain_url) as conn:
        people.add_person(conn, "Anton", "viewer", None, None)
        conn.execute("UPDATE person SET password_hash = %s", (weak,))
        assert people.password_fits(conn, "Anton", "a good password") is not None
        row = conn.execute("SELECT password_hash FROM person").fetchone()
    assert row is not None
    assert "m=65536" in row[0]


def test_a_password_of_the_greatest_length_is_not_replaced_by_a_longer_one_that_begins_with_it(plain_url: str) -> None:
    longest = "x" * passwords.PASSWORD_MOST
    weak = PasswordHasher(time_cost=1, memory_cost=64, parallelism=1).hash(longest)
    with psycopg.connect(plain_url) as conn:
        people.add_person(conn, "Anton", "viewer", None, None)
        conn.execute("UPDATE person SET password_hash = %s", (weak,))
        assert people.password_fits(conn, "Anton", longest + "x") is None
        assert people.password_fits(conn, "Anton", longest) is not None
        assert people.password_fits(conn, "Anton", longest) is not None


def test_where_there_is_no_password_one_is_looked_at_that_costs_as_much(plain_url: str) -> None:
    real, made_up = (
        extract_parameters(each) for each in (passwords.hashed("a good password", "x"), passwords._nobody())
    )
    assert real == made_up
    assert real == Parameters(Type.ID, 19, 16, 32, 3, 64 * 1024, 4)  # RFC 9106, section 4, second recommended option
    with psycopg.connect(plain_url) as conn:
        people.add_person(conn, "Anton", "viewer", None, None)
        assert [people.password_fits(conn, name, "") for name in ("Anton", "nobody")] == [None, None]


def test_a_person_is_known_to_a_provider_by_one_address_that_nobody_else_has(plain_url: str) -> None:
    with psycopg.connect(plain_url) as conn:
        anton = people.add_person(conn, "Anton", "viewer", None, None)
        people.add_person(conn, "Zoe", "viewer", None, None)
        people.set_sign_in_address(conn, "Anton", "Anton@example.org")
        assert people.by_sign_in_address(conn, "anton@EXAMPLE.org") == (anton, "Anton")
        for address in ("ANTON@example.org", "no address", "a@b c", ""):
            with pytest.raises(InputError):
                people.set_sign_in_address(conn, "Zoe", address)
        people.set_sign_in_address(conn, "Anton", None)
        assert people.by_sign_in_address(conn, "anton@example.org") is None
        people.set_sign_in_address(conn, "Anton", "anton@example.org")
        people.disable(conn, "Anton", NOW)
        assert people.by_sign_in_address(conn, "anton@example.org") is None


@pytest.mark.parametrize(
    ("name", "role", "facilities", "password"),
    [
        ("", "viewer", None, None),
        ("x" * 101, "viewer", None, None),
        ("a\x07b", "viewer", None, None),
        ("Mara", "boss", None, None),
        ("Mara", "viewer", ["nowhere"], None),
        ("Mara", "viewer", [], None),
        ("Mara", "viewer", None, "short"),
        ("Mara Mara", "viewer", None, "mara mara"),
        ("Mara", "viewer", None, "x" * 300),
        ("ANTON", "viewer", None, None),
    ],
)
def test_what_cannot_be_taken_is_said(
    plain_url: str, name: str, role: str, facilities: list[str] | None, password: str | None
) -> None:
    with psycopg.connect(plain_url) as conn:
        people.add_person(conn, "Anton", "viewer", None, None)
        with pytest.raises(InputError) as caught:
            people.add_person(conn, name, role, facilities, password)
        assert password is None or password not in str(caught.value)
        conn.execute("SELECT 1")  # the transaction is still usable


def test_disabling_somebody_ends_sessions_and_tokens(plain_url: str) -> None:
    with psycopg.connect(plain_url) as conn:
        person = people.add_person(conn, "Anton", "viewer", None, None)
        session = access.open_session(conn, person, "192.0.2.1", NOW, None)
        token = tokens.new_token(conn, "anton", "script")
        assert access.by_session(conn, session, NOW) == access.Holder(person, "Anton")
        assert tokens.by_token(conn, token, NOW) == access.Holder(person, "Anton", "admin")
        people.disable(conn, "Anton", NOW)
        assert access.by_session(conn, session, NOW) is None
        assert tokens.by_token(conn, token, NOW) is None


def test_names_nobody_has_and_empty_labels_are_refused(plain_url: str) -> None:
    with psycopg.connect(plain_url) as conn:
        for act in (
            lambda: people.disable(conn, "nobody", NOW),
            lambda: people.set_password(conn, "nobody", "a good password"),
            lambda: tokens.new_token(conn, "nobody", "script"),
            lambda: tokens.new_token(conn, "nobody", "  "),
        ):
            with pytest.raises(InputError):
                act()
