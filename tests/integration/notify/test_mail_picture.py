"""A mail shows the last day of what its alarm is about, and says all of it without the picture too."""

from __future__ import annotations

import re
import struct
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from email.message import EmailMessage
from uuid import UUID, uuid4

import psycopg
import pytest

from tests.builders import events
from tests.builders.scene import Scene, scene
from tests.integration.notify.conftest import running
from tests.parts.mail import Mailbox
from tests.parts.web import SECRET_KEY
from wickwatch.alarms.addresses import link
from wickwatch.alarms.calls import NoticeDraft
from wickwatch.notify import last_day
from wickwatch.notify.picture import Day, draw
from wickwatch.store import contacts, notices
from wickwatch.store.connect import Connection
from wickwatch.texts import Choices, Unit, speaking

BASE_URL = "https://watch.example.org"


@pytest.fixture(scope="module")
def made(shared_plain_url: str) -> Iterator[tuple[Connection, Scene, datetime]]:
    now = datetime.now(UTC)
    with psycopg.connect(shared_plain_url, autocommit=True, options="-c timezone=UTC") as conn:
        yield conn, scene(conn, now, days=0.5), now


def call(conn: Connection, site: Scene, about: UUID, now: datetime) -> NoticeDraft:
    """A call to Mara by mail about an alarm of the scene."""
    who = site.people["mara"]
    contact = contacts.add(conn, who, "email", "mara@example.org")
    text = f"Something is wrong.\n\nWhat to do:\n1. Look.\n2. Act.\n\nSay that it is yours:\n{link(BASE_URL, about)}\n"
    to = (site.birchwood, about, who, contact, "email", "mara@example.org")
    draft = NoticeDraft(f"{about}:1:{contact}", *to, "Now: wrong", text, {}, now, now + timedelta(hours=6))
    notices.queue(conn, [draft])
    return draft


def parts(message: EmailMessage, type: str) -> list[EmailMessage]:
    return [part for part in message.walk() if part.get_content_type() == type]  # type: ignore[misc]


def test_text_is_whole_and_html_says_the_same_around_a_picture_in_the_mail_itself(
    made: tuple[Connection, Scene, datetime], shared_plain_url: str, mailbox: Mailbox
) -> None:
    conn, site, now = made
    call(conn, site, site.alarms["drift"], now)
    with running(shared_plain_url, smtp_url=mailbox.url, secret_key=SECRET_KEY, base_url=BASE_URL):
        (mail,) = mailbox.wait_for(1)
    assert mail.message.get_content_type() == "multipart/alternative"
    (html,), (image,) = parts(mail.message, "text/html"), parts(mail.message, "image/png")
    shown = str(html.get_content())
    (address,) = re.findall(rf"{BASE_URL}/a/\S+", mail.text)
    assert f'href="{address}"' in shown
    for words in ("Something is wrong.", "What to do:", "Look.", "Act."):
        assert words in mail.text and words in shown
    assert f'src="cid:{image["Content-ID"][1:-1]}"' in shown
    assert re.search(r'alt="Tension of Pot 02 over the last day: \d+ to \d+ mbar, last 225 mbar', shown) is not None
    assert image.get_content_disposition() == "inline"
    png = image.get_payload(decode=True)
    assert isinstance(png, bytes) and png[:8] == b"\x89PNG\r\n\x1a\n"
    assert struct.unpack(">II", png[16:24]) == (1120, 440), "twice the size shown"
    assert "http" not in re.sub(rf"{BASE_URL}/a/", "", shown), "nothing is loaded from anywhere"


@pytest.mark.parametrize(
    ("alarm", "title", "unit", "lines"),
    [
        ("drift", "Tension of Pot 02", "mbar", 1),
        ("empty", "Usable water in R3 east", "l", 1),
    ],
)
def test_the_day_is_that_of_the_alarms_subject(
    made: tuple[Connection, Scene, datetime], alarm: str, title: str, unit: str, lines: int
) -> None:
    conn, site, now = made
    day = last_day.last_day(conn, site.alarms[alarm], site.birchwood, now)
    assert day is not None
    assert (day.title, day.unit.name, len(day.lines)) == (title, unit, lines)
    assert day.end - day.start == timedelta(days=1) and day.start < now < day.end
    assert len(day.lines[0]) >= 71, "half a day in buckets of ten minutes"
    assert last_day.last_day(conn, site.alarms[alarm], site.saltmarsh, now) is None
    assert last_day.last_day(conn, UUID(int=1), site.birchwood, now) is None


def test_the_day_is_in_the_readers_units_and_words(made: tuple[Connection, Scene, datetime]) -> None:
    conn, site, now = made
    with speaking(Choices("de", "kPa", "gal", "12h")):
        day = last_day.last_day(conn, site.alarms["drift"], site.birchwood, now)
        assert day is not None and day.band is not None
        assert (day.title, day.unit.name, day.band[1]) == ("Saugspannung von Pot 02", "kPa", 18.0)
        words = draw(day).words
        low = last_day.last_day(conn, site.alarms["empty"], site.birchwood, now)
    assert low is not None and (low.title, low.unit.name) == ("Nutzbares Wasser in R3 east", "gal")
    assert re.fullmatch(
        r"Saugspannung von Pot 02 am letzten Tag: \d+,\d bis \d+,\d kPa, zuletzt 22,5 kPa um \d+:\d\d [AP]M;"
        r" der Sollbereich ist \d+,\d bis 18,0 kPa\.",
        words,
    )


def test_an_alarm_without_readings_is_called_without_a_picture(
    made: tuple[Connection, Scene, datetime], shared_plain_url: str, mailbox: Mailbox
) -> None:
    conn, site, now = made
    room = site.rooms["room-02"]
    call(conn, site, events.alarm(conn, site.birchwood, room, ("container", uuid4(), "Pot 99"), now), now)
    with running(shared_plain_url, smtp_url=mailbox.url):
        (mail,) = mailbox.wait_for(1)
    assert parts(mail.message, "image/png") == []
    (html,) = parts(mail.message, "text/html")
    assert "<img" not in str(html.get_content())


def test_a_gap_breaks_the_line_and_words_tell_what_the_picture_shows() -> None:
    from zoneinfo import ZoneInfo

    end = datetime(2026, 11, 25, 10, tzinfo=UTC)
    points = [(end - timedelta(hours=hours), 100.0 + hours) for hours in (20.0, 19.9, 5.0, 1.0)]
    start = end - timedelta(days=1)
    picture = draw(Day("Tension of Pot 1", Unit("mbar", 1.0, 0), (points,), start, end, ZoneInfo("Europe/Oslo")))
    assert picture.words == "Tension of Pot 1 over the last day: 101 to 120 mbar, last 101 mbar at 10:00."
    assert picture.png[:4] == b"\x89PNG"
