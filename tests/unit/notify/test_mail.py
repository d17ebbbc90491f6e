"""What a mail says, before any server sees it."""

from __future__ import annotations

from datetime import timedelta

import pytest

from tests.unit.alarms.places import START, named
from wickwatch.notify.channels import Email
from wickwatch.notify.channels.email import compose
from wickwatch.store.notices import Claimed

KEY = f"{named('alarm')}:1:{named('contact')}"


def notice(address: str = "ane@example.org", title: str = "High: reservoir empty") -> Claimed:
    until = START + timedelta(hours=6)
    about = (named("notice"), KEY, named("alarm"))
    return Claimed(*about, "email", address, None, title, "R3 east is empty.\n", {}, START, until, 1)


def test_the_message_id_is_the_key_whenever_and_however_often_it_is_sent() -> None:
    first = compose(notice(), "wickwatch@example.net", START)
    again = compose(notice(), "wickwatch@example.net", START + timedelta(minutes=2))
    assert first["Message-ID"] == again["Message-ID"] == f"<{KEY.replace(':', '.')}@example.net>"
    assert first["References"] == f"<{named('alarm')}@example.net>"
    assert first["Auto-Submitted"] == "auto-generated"
    assert (first["Date"], again["Date"]) == ("Fri, 20 Nov 2026 04:00:00 +0000", "Fri, 20 Nov 2026 04:02:00 +0000")


def test_lines_and_foreign_letters_in_names_make_no_new_headers() -> None:
    mail = compose(notice(title="Høy: tom\r\nBcc: everybody@example.org"), "wickwatch@example.net", START)
    assert mail["Subject"] == "Høy: tom Bcc: everybody@example.org"
    assert mail["Bcc"] is None
    assert b"\nBcc:" not in bytes(mail)


@pytest.mark.parametrize("address", ["nobody", "", "a@b, c@d", "ane@example.org\nBcc: x@example.org"])
def test_an_address_that_is_none_is_never_tried_again(address: str) -> None:
    from wickwatch.urls import MAIL_SCHEMES, endpoint

    result = Email(endpoint("smtp://127.0.0.1:1", MAIL_SCHEMES), "wickwatch@example.net").send(notice(address), START)
    assert (result.ok, result.final) == (False, True)
    assert "not an address" in result.detail


def test_without_a_mail_server_the_try_says_what_to_set() -> None:
    result = Email(None, "wickwatch@example.net").send(notice(), START)
    assert (result.ok, result.final) == (False, False)
    assert "WICKWATCH_SMTP_URL" in result.detail
