"""The rota as a calendar, read back by a library and held against the rules of RFC 5545."""

from __future__ import annotations

import re
from datetime import UTC, date, datetime, time, timedelta
from itertools import pairwise
from uuid import UUID
from zoneinfo import ZoneInfo

from icalendar import Calendar

from wickwatch.alarms.rota import DatedTurn, Pattern, Rota
from wickwatch.alarms.rota_calendar import Wanted, calendar
from wickwatch.alarms.rota_holidays import between

OSLO = ZoneInfo("Europe/Oslo")
NOW = datetime(2026, 9, 20, 12, 0, 30, 123456, tzinfo=UTC)
ANE, BO = UUID(int=1), UUID(int=2)
NAMES = {ANE: "Ane; or Åse, née Ærlig-Ødegård-Þórðarson von und zu Schönbühl-Würzenbach (日本語の名前)", BO: "Bo\\Bø"}
WEEKLY = Pattern(UUID(int=9), 1, (ANE, BO), date(2026, 8, 31), time(2, 30))
SWAP = DatedTurn(UUID(int=8), 1, BO, datetime(2026, 10, 1, 6, tzinfo=UTC), datetime(2026, 10, 2, 6, tzinfo=UTC))
EVERYBODY = Wanted("Birchwood House, Åsgård", None)


def made(*turns: DatedTurn, wanted: Wanted = EVERYBODY, now: datetime = NOW, rota: Rota | None = None) -> bytes:
    return calendar(rota or Rota(OSLO, (WEEKLY,), turns), NAMES, wanted, now)


def events(text: bytes) -> list[tuple[datetime, datetime, str, str]]:
    found = [
        (event.decoded("dtstart"), event.decoded("dtend"), str(event["summary"]), str(event["uid"]))
        for event in Calendar.from_ical(text).walk("VEVENT")
    ]
    return sorted(found)


def test_lines_are_as_section_3_1_wants_them() -> None:
    text = made(SWAP)
    assert text.endswith(b"\r\n") and b"\n" not in text.replace(b"\r\n", b"")
    lines = text.split(b"\r\n")
    assert max(len(line) for line in lines) <= 75  # octets, without the line break
    assert any(line.startswith(b" ") for line in lines)  # the long name was folded
    text.decode()  # and nowhere but between whole characters, once unfolded
    text.replace(b"\r\n ", b"").decode()


def test_what_sections_3_6_and_3_6_1_require_is_there_once() -> None:
    read = Calendar.from_ical(made(SWAP))
    assert read["version"] == "2.0" and str(read["prodid"]).startswith("-//")
    assert "method" not in read  # a published file, no message: RFC 5546 would want an organizer
    assert not read.walk("VTIMEZONE")  # none is needed: every time is UTC
    plain = made(SWAP).replace(b"\r\n ", b"").decode()
    count = plain.count("BEGIN:VEVENT")
    assert count == plain.count("END:VEVENT") == len(events(made(SWAP))) > 25
    for name in ("UID", "DTSTAMP", "DTSTART", "DTEND", "SUMMARY"):
        assert len(re.findall(rf"^{name}[:;]", plain, re.M)) == count, name
    for name in ("DTSTAMP", "DTSTART", "DTEND"):
        assert len(re.findall(rf"^{name}:\d{{8}}T\d{{6}}Z\r?$", plain, re.M)) == count, name  # form 2 of 3.3.5: UTC
    assert "RRULE" not in plain and "DURATION:PT1H" in plain


def test_names_come_back_as_they_are_whatever_must_be_escaped() -> None:
    said = {summary for _, _, summary, _ in events(made())}
    assert said == {f"{name}: called first, Birchwood House, Åsgård" for name in NAMES.values()}


def test_turns_follow_one_another_without_a_hole_through_both_changes_of_the_clock() -> None:
    # Published (IANA tz database): Oslo changes on 25 October 2026 and 28 March 2027 at 01:00 UTC. 02:30 comes twice on
    # the first, and the first of them is meant; on the other it never comes, and 03:30 is.
    sundays = Pattern(UUID(int=7), 1, (ANE, BO), date(2026, 8, 30), time(2, 30))
    found = events(made(rota=Rota(OSLO, (sundays,))))
    assert all(before[1] == after[0] for before, after in pairwise(found))
    starts = [start for start, *_ in found]
    assert datetime(2026, 10, 25, 0, 30, tzinfo=UTC) in starts
    assert datetime(2027, 3, 28, 1, 30, tzinfo=UTC) in starts
    assert {f"{start.astimezone(OSLO):%H:%M}" for start in starts if (start.month, start.day) != (3, 28)} == {"02:30"}


def test_an_event_keeps_its_uid_from_day_to_day_and_when_other_turns_change() -> None:
    before = {uid: (start, end) for start, end, _, uid in events(made())}
    assert len(before) == len(events(made()))  # no UID twice
    tomorrow = {uid: (start, end) for start, end, _, uid in events(made(now=NOW + timedelta(days=1)))}
    assert tomorrow == before
    later = {uid: (start, end) for start, end, _, uid in events(made(now=NOW + timedelta(days=45)))}
    assert len(later.keys() & before.keys()) > 20
    assert all(later[uid] == before[uid] for uid in later.keys() & before.keys())
    swapped = {uid: (start, end) for start, end, _, uid in events(made(SWAP))}
    assert before.keys() < swapped.keys() and len(swapped) == len(before) + 2  # the swap, and what is left after it
    changed = [uid for uid in before if swapped[uid] != before[uid]]
    assert len(changed) == 1  # the turn that was cut short


def test_one_persons_calendar_holds_their_turns_alone() -> None:
    found = events(made(SWAP, wanted=Wanted("Birchwood House", BO)))
    assert found and all("Bo" in summary for _, _, summary, _ in found)
    both = {uid for *_, uid in events(made(SWAP))}
    assert {uid for *_, uid in found} < both


def test_a_holidays_stand_in_and_an_open_turn_have_events_with_an_end() -> None:
    stand_in = Pattern(UUID(int=6), 2, (ANE,), date(2026, 1, 1), time(0), on_holidays=True)
    days = between("NO", None, date(2026, 8, 1), date(2027, 4, 1))
    rota = Rota(OSLO, (stand_in,), (DatedTurn(UUID(int=5), 1, BO, datetime(2026, 1, 1, tzinfo=UTC), None),), days)
    read = Calendar.from_ical(made(rota=rota)).walk("VEVENT")
    (open_turn,) = [event for event in read if "first" in event["summary"]]
    assert open_turn.decoded("dtend") == datetime(2027, 3, 31, 22, tzinfo=UTC)  # the end of what is shown
    christmas = [event for event in read if "Christmas Day" in str(event.get("description"))]
    assert [event.decoded("dtstart") for event in christmas] == [datetime(2026, 12, 24, 23, tzinfo=UTC)]
