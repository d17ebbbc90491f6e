"""`wickwatch duty`: somebody can be called without a page or a line of SQL."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta

import pytest

from tests.integration.cli.conftest import Cli
from tests.parts.mail import Mailbox
from wickwatch.store import people, rota, rota_feed
from wickwatch.store.connect import connect
from wickwatch.store.fleet import facilities


@pytest.fixture
def database_url(plain_url: str) -> str:
    """One database is enough here: what is stored is tested on both elsewhere."""
    return plain_url


def called(database_url: str, at: datetime) -> list[tuple[str, list[str]]]:
    with connect(database_url, "test") as conn:
        (site,) = facilities(conn)
        duty = rota.on_duty(conn, site.id, at)
        return [(person.name, [contact.address for contact in person.contacts]) for person in duty.first]


def test_a_person_with_an_address_and_a_turn_is_the_one_who_is_called(fleet: Cli, database_url: str) -> None:
    fleet("user", "add", "Kim", "--role", "grower", "--generate")
    now = datetime.now(UTC)
    assert called(database_url, now) == []
    assert fleet("duty", "reach", "Kim", "--email", "kim@example.org").code == 0
    end = (now + timedelta(hours=8)).isoformat()
    added = fleet("duty", "add", "Kim", "--to", end)
    assert (added.code, added.err) == (0, "")
    assert called(database_url, now + timedelta(minutes=1)) == [("Kim", ["kim@example.org"])]
    assert called(database_url, now + timedelta(hours=9)) == []
    shown = fleet("duty", "list").out
    assert "birchwood: Kim" in shown
    turn = re.search(r"[0-9a-f-]{36}", shown)
    assert turn
    assert fleet("duty", "remove", turn[0]).code == 0
    assert called(database_url, now + timedelta(minutes=1)) == []


def test_a_turn_of_somebody_who_cannot_be_reached_says_so(fleet: Cli) -> None:
    fleet("user", "add", "Kim", "--role", "grower", "--generate")
    assert "can't be reached" in fleet("duty", "add", "Kim").out


def test_an_address_is_forgotten_and_an_unknown_one_is_refused_with_those_known(fleet: Cli) -> None:
    fleet("user", "add", "Kim", "--role", "grower", "--generate")
    assert "signed with whsec_" in fleet("duty", "reach", "Kim", "--webhook", "https://example.org/hook").out
    refused = fleet("duty", "forget", "Kim", "kim@example.org")
    assert refused.code == 1
    assert "accepted: https://example.org/hook" in refused.err
    assert fleet("duty", "forget", "Kim", "https://example.org/hook").code == 0


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("reach", "Kim", "--email", "nonsense"), "mail address is 'nonsense'"),
        (("reach", "Nobody", "--email", "kim@example.org"), "Nobody"),
        (("add", "Kim", "--from", "2026-11-20T10:00:00Z", "--to", "2026-11-20T09:00:00Z"), "a time after its start"),
    ],
)
def test_what_cannot_be_is_one_sentence(fleet: Cli, arguments: tuple[str, ...], said: str) -> None:
    fleet("user", "add", "Kim", "--role", "grower", "--generate")
    ran = fleet("duty", *arguments)
    assert ran.code == 1
    assert said in ran.err
    assert len(ran.err.splitlines()) == 1


def test_two_people_cannot_have_the_same_turn(fleet: Cli) -> None:
    for name in ("Kim", "Lee"):
        fleet("user", "add", name, "--role", "grower", "--generate")
    assert fleet("duty", "add", "Kim").code == 0
    assert "nobody else is on duty at step 1" in fleet("duty", "add", "Lee").err
    assert fleet("duty", "add", "Lee", "--step", "2").code == 0


def test_a_test_goes_over_each_way_and_says_how_it_went(fleet: Cli, database_url: str, mailbox: Mailbox) -> None:
    import threading

    from wickwatch.notify.process import run
    from wickwatch.settings import Settings

    fleet("user", "add", "Kim", "--role", "grower", "--generate")
    assert fleet("duty", "test", "Kim").code == 1
    fleet("duty", "reach", "Kim", "--email", "kim@example.org")
    fleet("duty", "reach", "Kim", "--service", "json://127.0.0.1:1/calls")
    unsent = fleet("duty", "test", "Kim", "--address", "kim@example.org", "--wait", "1")
    assert unsent.code == 1 and "does `wickwatch notify` run?" in unsent.out
    stop = threading.Event()
    settings = Settings(database_url=database_url, smtp_url=mailbox.url, mail_from="wickwatch@example.net")
    notify = threading.Thread(target=run, args=(settings, stop))
    notify.start()
    try:
        tested = fleet("duty", "test", "Kim", "--wait", "20", "--address", "kim@example.org")
        both = fleet("duty", "test", "Kim", "--wait", "3")
    finally:
        stop.set()
        notify.join(30)
    assert (tested.code, tested.out) == (0, "email kim@example.org: taken by 127.0.0.1\n")
    assert both.code == 1 and "service json://127.0.0.1:1: not sent yet" in both.out
    assert mailbox.mails[0].message["Subject"] == "Test: Wickwatch reaches you here"


def test_a_service_on_this_machine_is_no_way_to_be_reached(fleet: Cli) -> None:
    fleet("user", "add", "Kim", "--role", "grower", "--generate")
    refused = fleet("duty", "reach", "Kim", "--service", "syslog://")
    assert refused.code == 1 and "a service that is not on this machine" in refused.err


def test_the_whole_rota_is_made_without_a_page_and_who_is_called_can_be_asked(fleet: Cli, database_url: str) -> None:
    for name, role in (("Kim", "grower"), ("Lee", "grower"), ("Vera", "manager")):
        fleet("user", "add", name, "--role", role, "--generate")
        assert fleet("duty", "reach", name, "--email", f"{name.lower()}@example.org").code == 0
    assert "Kim, then Lee at step 1" in fleet("duty", "weekly", "Kim", "Lee", "--from", "2026-11-23").out
    assert fleet("duty", "weekly", "Lee", "--from", "2026-11-23", "--step", "2").code == 0
    assert fleet("duty", "weekly", "Lee", "--from", "2026-11-23", "--at", "00:00", "--holidays").code == 0
    assert fleet("duty", "holidays", "no").out == "birchwood keeps the holidays of NO\n"
    assert fleet("duty", "answer", "5").code == 0
    assert fleet("duty", "quiet", "Lee", "--from", "22:00", "--to", "06:30").code == 0
    asked = fleet("duty", "now", "--at", "2026-11-24T22:30:00Z")
    assert asked.out.splitlines() == [
        "birchwood, 2026-11-24 23:30 CET",
        "  at once         Kim by email",
        "  after 5 min     Lee by email",
        "  after 15 min    Vera by email",
    ]
    assert "at once         Lee by email" in fleet("duty", "now", "--at", "2026-12-25T12:00:00Z").out
    assert fleet("duty").out.startswith("birchwood, ")
    listed = fleet("duty", "list").out
    turns = re.search(r"step 1  every 7 days from 2026-11-23 08:00  Kim → Lee  ([0-9a-f-]{36})", listed)
    assert turns and fleet("duty", "end", turns[1]).code == 0
    address = fleet("duty", "calendar", "Kim").out.strip()
    with connect(database_url, "test") as conn:
        shown = rota_feed.by_secret(conn, address.rsplit("/", 1)[1].removesuffix(".ics"))
        assert shown is not None and shown.person_id == people.person_named(conn, "Kim")
    assert "--from and --to, or neither" in fleet("duty", "quiet", "Lee", "--from", "22:00").err
    refused = fleet("duty", "now", "--alarm", "00000000-0000-0000-0000-000000000000")
    assert refused.code == 1 and len(refused.err.splitlines()) == 1
