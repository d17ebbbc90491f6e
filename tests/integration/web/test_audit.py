"""The audit log: complete, append-only, and each administrator's own part of it."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator
from typing import Any

import psycopg
import pytest

from tests.integration.cli.conftest import Cli, clean_environment, cli  # noqa: F401 -- fixtures
from tests.integration.web.conftest import NOW, Site, later, opened
from tests.integration.web.test_access import form_token
from wickwatch.store import audit, people, tokens
from wickwatch.store.access import SCOPES


@pytest.fixture
def database_url(site: Site) -> str:
    """Commands work on the site's own database. One engine is enough here: triggers are the same on both."""
    return site.database_url


@pytest.fixture
def told(site: Site) -> Iterator[Site]:
    """A site where Mara has acknowledged an alarm and Ines has changed her rota."""
    mara, ines = site.browser("Mara"), site.browser("Ines")
    path = f"/alarms/{site.scene.alarms['drift']}/acknowledge"
    assert mara.post(path, data={"form_token": form_token(mara.get("/me").text)}).status_code == 303
    later(site, minutes=5)
    form = {"form_token": form_token(ines.get("/me").text), "minutes": "20"}
    assert ines.post("/rota/saltmarsh/steps", data=form).status_code == 303
    yield site


def changes(site: Site, thing: str = "") -> list[tuple[Any, ...]]:
    with site.connect() as conn:
        return conn.execute(
            "SELECT e.who, c.thing, c.old, c.new FROM audit_change c JOIN audit_entry e ON e.id = c.entry_id"
            " WHERE %(thing)s IN ('', c.thing) ORDER BY c.id",
            {"thing": thing},
        ).fetchall()


def test_an_entry_says_who_from_where_when_and_what_it_was_and_is(told: Site) -> None:
    with told.connect() as conn:
        entry = conn.execute("SELECT who, via, address, at, action, told FROM audit_entry ORDER BY at").fetchone()
    path = "POST /alarms/{id}/acknowledge"
    assert entry == ("Mara", "page", "127.0.0.1", NOW, path, 'Say "mine" to an alarm.')
    ((who, _, old, new),) = changes(told, "alarm")
    assert who == "Mara"
    assert (old["state"], new["state"]) == ("unacknowledged", "acknowledged")
    assert new["acknowledged_by"] == str(told.scene.people["mara"])
    assert set(new) <= {"state", "acknowledged_at", "acknowledged_by"}


def test_the_log_can_not_be_changed_or_shortened(told: Site) -> None:
    for statement in (
        "UPDATE audit_entry SET who = 'nobody'",
        "DELETE FROM audit_change",
        "UPDATE audit_change SET new = '{}'",
        "DELETE FROM audit_entry",
        "TRUNCATE audit_entry CASCADE",
        "TRUNCATE audit_change",
    ):
        with pytest.raises(psycopg.errors.RestrictViolation), told.connect() as conn:
            conn.execute(statement)  # type: ignore[call-overload]
    assert len(changes(told)) == 2


def test_what_was_refused_or_undone_leaves_no_entry(site: Site) -> None:
    root = site.browser("Root")
    form = {"form_token": form_token(root.get("/me").text), "minutes": ["20", "0"]}
    assert root.post("/rota/birchwood/steps", data=form).status_code == 422 or changes(site) == []
    assert changes(site) == []


def test_no_password_token_or_key_is_in_the_log(site: Site) -> None:
    root = site.browser("Root")
    token = form_token(root.get("/me").text)
    made = root.post("/me/tokens", data={"label": "x", "form_token": token}).text
    secret = made.partition("<pre>")[2].partition("</pre>")[0]
    address = {"way": "webhook", "address": "https://hooks.example.org/x"}
    signing = root.post("/me/contacts", data=address | {"form_token": token}).text
    key = signing.partition("<pre>")[2].partition("</pre>")[0]
    with site.connect() as conn:
        audit.write_for(conn, audit.author(NOW, "test", "command", "here", "x", "x"))
        people.set_password(conn, "Mara", "a password to look for")
        hashed = conn.execute("SELECT password_hash FROM person WHERE name = 'Mara'").fetchone()
        rows = conn.execute("SELECT token_hash FROM api_token").fetchall()
        text = str(conn.execute("SELECT old, new FROM audit_change").fetchall())
    assert hashed is not None
    hidden = [secret, key, hashed[0], *(row[0].hex() for row in rows)]
    assert all(len(each) > 20 for each in hidden)
    assert not [each for each in hidden if each in text]
    assert "'password_hash': 'hidden'" in text


def test_services_leave_no_entries_and_commands_one_each(site: Site, cli: Cli) -> None:  # noqa: F811
    with site.connect() as conn:
        conn.execute("UPDATE facility SET name = 'Written by no person'")
    assert changes(site) == []
    assert cli("user", "add", "Kim", "--role", "grower", "--generate").code == 0
    assert cli("duty", "reach", "Kim", "--email", "kim@example.org").code == 0
    assert cli("user", "list").code == 0
    assert cli("user", "token", "Kim", "--label", "panel", "--scope", "read").code == 0
    with site.connect() as conn:
        token = tokens.tokens(conn, people.person_named(conn, "Kim"))[0]
    assert (token.label, token.scope) == ("panel", "read")
    assert "panel: read" in cli("user", "tokens", "Kim").out
    assert cli("user", "revoke", "Kim", token.id).code == 0
    assert cli("user", "revoke", "Kim", token.id).code == 1
    assert cli("user", "address", "Kim", "kim@example.org").code == 0
    with site.connect() as conn:
        told = conn.execute("SELECT via, person_id, action FROM audit_entry ORDER BY at").fetchall()
    words = ("user add", "duty reach", "user token", "user revoke", "user address")
    assert told == [("command", None, f"wickwatch {each}") for each in words]


def test_readings_by_a_file_are_one_entry(site: Site, cli: Cli, tmp_path: Any) -> None:  # noqa: F811
    file = tmp_path / "readings.csv"
    rows = [f"urn:dev:mac:0024befffe804f{n:02x}:tension,2026-11-20T04:{n:02d}:00Z,100" for n in range(30)]
    file.write_text("\n".join(["channel,at,value", *rows]))
    assert cli("import", file, "--facility", "birchwood").code == 0
    (change,) = changes(site)
    assert change[1:] == ("reading", None, {"stored": 30, "duplicates": 0, "conflicts": 0})


def test_an_administrator_of_one_facility_sees_its_entries_only(told: Site) -> None:
    with told.connect() as conn:
        people.add_person(conn, "Ada", "administrator", ["birchwood"], None)
    root, ada = told.browser("Root"), told.browser("Ada")
    assert {"Mara:", "Ines:"} <= set(root.get("/audit").text.split())
    seen = ada.get("/audit").text
    assert "Mara: Say" in seen
    assert "Ines" not in seen
    assert "saltmarsh" not in seen
    assert ada.get("/audit?facility=saltmarsh").status_code == 404
    lines = list(csv.reader(io.StringIO(ada.get("/audit.csv").text)))
    assert lines[0][:3] == ["at", "who", "via"]
    assert {line[1] for line in lines[1:]} == {"Mara"}
    for name in ("Mara", "Otto", "Ines"):
        assert told.browser(name).get("/audit").status_code == 403
        assert told.browser(name).get("/audit.csv").status_code == 403


@pytest.mark.parametrize(
    ("asked", "found"),
    [
        ("", ["Ines", "Mara"]),
        ("who=mara", ["Mara"]),
        ("facility=saltmarsh", ["Ines"]),
        ("thing=alarm", ["Mara"]),
        ("via=api", []),
        ("since=2026-11-25&until=2026-11-25", ["Ines", "Mara"]),
        ("until=2026-11-24", []),
        ("since=2026-11-26", []),
    ],
)
def test_the_log_is_filtered(told_once: Site, asked: str, found: list[str]) -> None:
    root = told_once.browser("Root")
    lines = list(csv.reader(io.StringIO(root.get(f"/audit.csv?{asked}").text)))[1:]
    assert [line[1] for line in lines] == found
    page = root.get(f"/audit?{asked}").text
    assert [name for name in ("Ines", "Mara") if f"{name}: " in page] == found


def test_a_day_that_is_none_is_said(told_once: Site) -> None:
    answer = told_once.browser("Root").get("/audit?since=yesterday")
    assert "first day is" in answer.text
    assert told_once.browser("Root").get("/audit.csv?since=yesterday").status_code == 422


def test_a_cell_of_the_table_is_never_a_formula(site: Site) -> None:
    with site.connect() as conn:
        audit.write_for(conn, audit.author(NOW, "=1+1", "command", "@here", "-x", "x"))
        audit.note(conn, None, "reading", "+1", {})
    text = site.browser("Root").get("/audit.csv").text
    assert text.splitlines()[1].split(",")[1:5] == ["'=1+1", "command", "'@here", "'-x"]


def test_earlier_entries_are_behind_a_link(site: Site) -> None:
    with site.connect() as conn:
        for number in range(120):
            audit.write_for(conn, audit.author(NOW, f"Person {number}", "command", "here", "x", "x"))
            audit.note(conn, site.scene.birchwood, "reading", "", {"stored": number})
    root, seen, path = site.browser("Root"), [], "/audit"
    while path:
        page = root.get(path).text
        seen += list(page.split("</b> Person ")[1:])
        path = page.partition('href="/audit?cursor=')[2].partition('"')[0]
        path = f"/audit?cursor={path}" if path else ""
    assert len({each.partition(":")[0] for each in seen}) == len(seen) == 120


def test_the_schema_and_the_code_name_the_same_ways_and_scopes(plain_url: str) -> None:
    with psycopg.connect(plain_url) as conn:
        rows = dict(
            conn.execute(
                "SELECT conrelid::regclass::text || '.' || conname, pg_get_constraintdef(oid) FROM pg_constraint"
                " WHERE conname IN ('audit_entry_via_check', 'api_token_scope_check')"
            ).fetchall()
        )
    for definition, known in zip(
        (rows["audit_entry.audit_entry_via_check"], rows["api_token.api_token_scope_check"]),
        (audit.VIAS, SCOPES),
        strict=True,
    ):
        assert set(definition.split("'")[1::2]) == set(known)


@pytest.fixture(scope="module")
def told_once(plain_server: str) -> Iterator[Site]:
    """The same for tests that only look."""
    with opened(plain_server) as site:
        for who, facility, thing in (("Mara", "birchwood", "alarm"), ("Ines", "saltmarsh", "rota_step")):
            with site.connect() as conn:
                audit.write_for(conn, audit.author(site.now, who, "page", "192.0.2.1", "POST /x", "Do something."))
                audit.note(conn, getattr(site.scene, facility), thing, "a name", {"minutes": 20})
            later(site, minutes=5)
        yield site
