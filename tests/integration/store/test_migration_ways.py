"""Contacts and notices of the release before are still there after more ways to reach a person came."""

from __future__ import annotations

import re
from pathlib import Path
from typing import get_args

import psycopg
import pytest

from wickwatch.notify.process import WORKERS
from wickwatch.store import migrate
from wickwatch.store.contacts import WAYS
from wickwatch.store.migrate import known
from wickwatch.web.api.models import Way
from wickwatch.web.views import words

FORMER_CONTACT = """
INSERT INTO contact (person_id, position, way, address) SELECT id, %s, 'email', 'kim@example.org' FROM person
RETURNING id
"""
FORMER_NOTICE = """
INSERT INTO notice (key, facility_id, person_id, contact_id, way, address, title, body, payload, created_at, due_at,
    expires_at)
SELECT %s, f.id, c.person_id, c.id, c.way, c.address, 't', 'b', '{}', now(), now(), now()
FROM facility f, contact c LIMIT 1
"""


def test_rows_of_the_release_before_stay_and_its_statements_still_work(empty_database_url: str) -> None:
    migrate(empty_database_url, [one for one in known() if one.number < 4])
    with psycopg.connect(empty_database_url) as conn:
        conn.execute("INSERT INTO facility (slug, name, zone) VALUES ('birchwood', 'Birchwood House', 'Europe/Oslo')")
        conn.execute("INSERT INTO person (name) VALUES ('Kim')")
        conn.execute(FORMER_CONTACT, (1,))
        conn.execute(FORMER_NOTICE, ("before",))
    migrate(empty_database_url)
    with psycopg.connect(empty_database_url) as conn:
        conn.execute(FORMER_CONTACT, (2,))
        conn.execute(FORMER_NOTICE, ("after",))
        contacts = conn.execute("SELECT way, address, label, removed_why FROM contact").fetchall()
        notices = conn.execute("SELECT key, purpose FROM notice ORDER BY key").fetchall()
    assert contacts == [("email", "kim@example.org", "", None)] * 2
    assert notices == [("after", "call"), ("before", "call")]


def test_ways_are_the_same_in_code_schema_interface_and_words() -> None:
    migration = Path(__file__).parents[3] / "db" / "migrations" / "0004_ways_to_reach.sql"
    checked = re.search(r"CHECK \(way IN \(([^)]*)\)", migration.read_text())
    assert checked is not None
    assert tuple(re.findall(r"'([^']+)'", checked[1])) == WAYS == get_args(Way) == tuple(words.WAYS)
    assert set(WORKERS) == set(WAYS)


def test_another_way_is_refused(plain_url: str) -> None:
    with psycopg.connect(plain_url) as conn:
        conn.execute("INSERT INTO person (name) VALUES ('Kim')")
        with pytest.raises(psycopg.errors.CheckViolation):
            conn.execute("INSERT INTO contact (person_id, way, address) SELECT id, 'pigeon', 'loft' FROM person")
