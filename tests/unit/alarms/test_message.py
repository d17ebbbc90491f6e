"""Every sentence names the thing, its room, its number, its trend, in facility time."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from tests.unit.alarms.places import GATEWAY, HOUSE, START, found, line, pot, reservoir, room_id
from wickwatch.alarms import AGAIN, DONE, POLICIES, STEPS, advice
from wickwatch.alarms.conditions import follow
from wickwatch.alarms.facts import facts
from wickwatch.alarms.message import sentence
from wickwatch.alarms.words import clock, lasting, of_number, whole
from wickwatch.detect.finding import Finding, Judgement
from wickwatch.fleet import KINDS, WORK_KINDS, Kind, Subject

AT = START + timedelta(hours=1, minutes=12)
ROOM = Subject("room", room_id(), "Room 3")
HERE = Subject("facility", HOUSE.id, HOUSE.name)


def said(finding: Finding, at: datetime = AT) -> str:
    judgement = Judgement(at, frozenset({finding.kind}), (finding,))
    (condition,) = follow({}, judgement, frozenset(), frozenset({finding.subject.id})).values()
    return sentence(facts(condition, HOUSE, at))


SAID: list[tuple[Finding, str]] = [
    (
        found("reservoir-empty", reservoir()),
        "R3 east in Room 3 is empty: 12 mm of water, 70 mm needed, since 05:00; 2 containers have no water.",
    ),
    (
        found("reservoir-low", reservoir(), harm_at=AT + timedelta(hours=9.5), usable_l=81.6, draw_l_per_h=8.62),
        "R3 east in Room 3 will be empty about 15:42, in 9 h 30 min: 82 l left, 8.6 l/h drawn.",
    ),
    (found("reservoir-low", reservoir(), level_mm=140.0), "R3 east in Room 3 is low: 140 mm of water."),
    (
        found("drying-drift", pot(), harm_at=AT + timedelta(days=2)),
        "Pot 1 in Room 3 is drying out: 152 mbar, 6.2 mbar more each day, at its dry limit of 180 mbar about"
        " Sun 22 Nov 06:12 at this rate.",
    ),
    (
        found("drying-drift", pot(), tension_mbar=191.0, dry_limit_mbar=180.0, above_usual_mbar=44.0),
        "Pot 1 in Room 3 is drying out: 191 mbar, 44 mbar drier than its usual day, past its dry limit of 180 mbar.",
    ),
    (
        found("sudden-wetting", pot(), tension_mbar=21.6, wet_limit_mbar=60.0, excess_l_per_h=3.25),
        "Pot 1 in Room 3 is getting water it does not need, its emitter may be stuck open: 22 mbar, wet limit 60 mbar,"
        " since 05:00, 3.2 l/h more than usual drawn.",
    ),
    (
        found("sudden-wetting", pot(), harm_at=AT + timedelta(hours=5), tension_mbar=40.0, excess_l_per_h=2.0),
        "Pot 1 in Room 3 is getting water it does not need, its emitter may be stuck open: 40 mbar, since 05:00,"
        " 2.0 l/h more than usual drawn, runs over about 11:12 at this rate.",
    ),
    (
        found("reservoir-leak", reservoir(), leak_l_per_h=2.5),
        "R3 east in Room 3 loses 2.5 l/h while nothing should be drinking, since 05:00.",
    ),
    (
        found("supply-interrupted", line(), containers=9),
        "r3-loop in Room 3 gets no water: 9 containers dry together while its reservoir is not empty, since 05:00.",
    ),
    (
        found("supply-interrupted", line(), containers=4, dry_from="Pot 1"),
        "r3-loop in Room 3 gets no water: 4 containers dry together while its reservoir is not empty, since 05:00."
        " From Pot 1 on none is watered: look for air just before it.",
    ),
    (
        found("uneven-room", ROOM, spread_mbar=64.0, usual_mbar=22.0),
        "Room 3 has become uneven, some emitters want re-setting: 64 mbar between like containers, 22 mbar is usual,"
        " since 05:00.",
    ),
    (
        found("probe-silent", pot(), last_value=103.4),
        "The probe of Pot 1 in Room 3 has sent nothing since 05:00; its last reading was 103 mbar.",
    ),
    (
        found("probe-silent", reservoir(), last_value=430.0),
        "The level sensor of R3 east in Room 3 has sent nothing since 05:00; its last reading was 430 mm.",
    ),
    (
        found("probe-fault", pot(), fault="took in air"),
        "The probe of Pot 1 in Room 3 can't be believed (took in air), since 05:00.",
    ),
    (
        found("probe-silent", pot(), last_value=103.4, battery_percent=2.0),
        "The probe of Pot 1 in Room 3 has sent nothing since 05:00; its last reading was 103 mbar; its battery was at"
        " 2 %.",
    ),
    (
        found("probe-fault", pot(), fault="battery low", battery_percent=8.0, device="urn:dev:x:1", twin=True),
        "The battery of the second probe of Pot 1 in Room 3 (urn:dev:x:1) is low: 8 % left, since 05:00.",
    ),
    (
        found("gateway-silent", GATEWAY, room=None, status="online", channels=24),
        "Gateway gw-01 of Birchwood House has sent nothing since 05:00 (1 h 12 min): 24 probes are not watched.",
    ),
    (
        found("gateway-silent", GATEWAY, room=None, status="offline", channels=1),
        "Gateway gw-01 of Birchwood House says it is offline since 05:00 (1 h 12 min): 1 probe is not watched.",
    ),
    (
        found("monitoring-stopped", HERE, room=None, parts="taking readings in", why="no connection"),
        "Birchwood House is not fully watched: taking readings in (no connection), since 05:00; until this is mended,"
        " silence is no good news.",
    ),
]


@pytest.mark.parametrize(("finding", "text"), SAID, ids=[f"{one.kind} {n}" for n, (one, _) in enumerate(SAID)])
def test_the_sentence_of_every_kind(finding: Finding, text: str) -> None:
    assert said(finding) == text


def test_every_kind_has_a_sentence_steps_a_policy_and_an_ending() -> None:
    assert {finding.kind for finding, _ in SAID} == set(KINDS)
    for table in (STEPS, POLICIES, AGAIN):
        assert set(table) == set(KINDS)
    assert set(DONE) == set(WORK_KINDS)


@pytest.mark.parametrize("kind", KINDS)
def test_a_finding_without_numbers_still_makes_a_whole_sentence(kind: Kind) -> None:
    subject = {"uneven-room": ROOM, "monitoring-stopped": HERE, "gateway-silent": GATEWAY}.get(kind, pot())
    text = said(replace(found(kind, subject), evidence={}))
    assert text.endswith(".") and "None" not in text and ": ." not in text and "  " not in text
    assert subject.name in text


def test_a_name_of_ten_thousand_letters_and_lines_stays_one_short_line() -> None:
    text = said(found("reservoir-empty", replace(reservoir(), name="R3\neast " + "x" * 10_000)))
    assert len(text) == 400 and "\n" not in text and text.endswith("…")


@pytest.mark.parametrize("kind", KINDS)
def test_steps_are_whole_sentences_and_what_is_wet_or_live_has_its_caution(kind: Kind) -> None:
    told = advice(kind, {})
    for step in told:
        assert step[0].isupper() and step[-1] in ".:?", step
    cautions = " ".join(told[len(STEPS[kind]) :])
    if kind in ("sudden-wetting", "reservoir-leak", "reservoir-empty", "reservoir-low", "gateway-silent"):
        assert "breaker" in cautions or "licensed electrician" in cautions


def test_times_are_the_facilitys_and_name_the_day_when_it_is_another() -> None:
    oslo, denver = ZoneInfo("Europe/Oslo"), ZoneInfo("America/Denver")
    assert clock(AT, AT, oslo) == "06:12"
    assert clock(AT, AT, denver) == "22:12"
    assert clock(AT, AT + timedelta(days=1), oslo) == "Fri 20 Nov 06:12"
    assert clock(datetime(2028, 2, 29, 12, tzinfo=UTC), AT, oslo) == "Tue 29 Feb 13:00"


def test_the_hour_that_happens_twice_names_which_one_it_is() -> None:
    oslo = ZoneInfo("Europe/Oslo")
    first, second = datetime(2026, 10, 25, 0, 30, tzinfo=UTC), datetime(2026, 10, 25, 1, 30, tzinfo=UTC)
    assert (clock(first, first, oslo), clock(second, second, oslo)) == ("02:30 CEST", "02:30 CET")
    before, after = datetime(2026, 3, 29, 0, 30, tzinfo=UTC), datetime(2026, 3, 29, 1, 30, tzinfo=UTC)
    assert (clock(before, before, oslo), clock(after, after, oslo)) == ("01:30", "03:30")


@pytest.mark.parametrize(
    ("seconds", "text"),
    [
        (-5, "0 s"),
        (59.4, "59 s"),
        (60, "1 min"),
        (3599, "59 min"),
        (3600, "1 h"),
        (11400, "3 h 10 min"),
        (86400, "1 day"),
        (90000, "1 day 1 h"),
        (2 * 86400 + 3 * 3600, "2 days 3 h"),
    ],
)
def test_lengths_of_time_have_two_units_at_most(seconds: float, text: str) -> None:
    assert lasting(timedelta(seconds=seconds)) == text


def test_what_is_no_number_is_left_out() -> None:
    assert [of_number(str, value) for value in (None, True, "12", 2)] == [None, None, None, "2.0"]
    assert [whole(value) for value in (None, True, "12", 0, 1, 2.0)] == [0, 0, 0, 0, 1, 2]
