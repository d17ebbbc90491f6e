"""A stored alarm is said again to each reader: as stored in plain English, with nothing of English elsewhere."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from datetime import timedelta

import pytest

from tests.builders import pseudo
from tests.unit.alarms.places import HOUSE, START, Watch, found, named, pot, reservoir, work
from tests.unit.alarms.test_message import SAID
from wickwatch.alarms import (
    AGAIN,
    DONE,
    EVENTS,
    POLICIES,
    PRIORITIES,
    Alarm,
    Call,
    Contact,
    NoticeDraft,
    OnDuty,
    advice,
    advise,
    leaving,
    names,
    outcome,
    replay,
    said,
)
from wickwatch.alarms.ending import CAUSE
from wickwatch.alarms.facts import kept_facts
from wickwatch.alarms.message import sentence
from wickwatch.detect.finding import Finding
from wickwatch.fleet import KINDS, WORK_KINDS, Kind
from wickwatch.texts import Choices, speaking

NAMES = ("R3 east", "Pot 1", "Room 3", "Birchwood House", "r3-loop", "gw-01", "urn:dev:x:1")
KPA = Choices("de", "kPa", "gal", "12h")
RESET = work("re-set-emitter", pot(), 0)


def raised(finding: Finding) -> Alarm:
    """The alarm of a finding, with its evidence and what it is made of as a database gives them back."""
    watch = Watch()
    watch.sweeps(0, 72, finding, every=4)
    return kept(watch.only(finding.kind))


def kept(alarm: Alarm) -> Alarm:
    made_of, evidence = json.loads(json.dumps([alarm.made_of, alarm.evidence]))
    return replace(alarm, made_of=made_of, evidence=evidence)


def closed(watch: Watch, finding: Finding, minute: int) -> Alarm:
    """The same alarm once its condition is gone since that minute."""
    watch.sweeps(minute, minute + 3000, every=60)
    return kept(watch.only(finding.kind))


IDS = [f"{finding.kind} {n}" for n, (finding, _) in enumerate(SAID)]


@pytest.mark.parametrize("finding", [finding for finding, _ in SAID], ids=IDS)
def test_what_is_said_again_to_nobody_is_the_very_text_that_is_stored(finding: Finding) -> None:
    alarm = raised(finding)
    assert sentence(kept_facts(alarm.kind, alarm.evidence, alarm.made_of["message"])) == alarm.message  # type: ignore[arg-type]
    assert said(alarm) == alarm.message


@pytest.mark.parametrize("finding", [finding for finding, _ in SAID], ids=IDS)
def test_a_message_in_another_language_has_nothing_of_english(
    finding: Finding, monkeypatch: pytest.MonkeyPatch
) -> None:
    pseudo.patch(monkeypatch)
    fault = {"fault": "has lost its water"} if finding.evidence.get("fault") == "took in air" else {}
    given = {"why": "10 notices"} if finding.kind == "monitoring-stopped" else {}
    alarm = raised(replace(finding, evidence={**finding.evidence, **fault, **given}))
    with speaking(pseudo.READER):
        assert pseudo.never_looked_up(said(alarm), (*NAMES, "10 notices", "So", "Nov")) == set()


def test_the_remark_on_failed_work_is_said_again_too(monkeypatch: pytest.MonkeyPatch) -> None:
    watch = Watch()
    watch.work = [RESET]
    watch.sweeps(0, 800, found("drying-drift", pot()), every=20)
    alarm = kept(watch.only("drying-drift"))
    assert alarm.message.endswith("Re-setting the emitter at 05:00 did not help.")
    with speaking(Choices("de")):
        assert said(alarm).endswith(" Das Neueinstellen des Tropfers (05:00) hat nicht geholfen.")
    pseudo.patch(monkeypatch)
    with speaking(pseudo.READER):
        assert pseudo.never_looked_up(said(alarm), NAMES) == set()


@pytest.mark.parametrize("kind", KINDS)
def test_an_ending_in_another_language_has_nothing_of_english(kind: Kind, monkeypatch: pytest.MonkeyPatch) -> None:
    pseudo.patch(monkeypatch)
    endings: list[dict[str, object]] = [
        {"lasted_s": 180_000.0},
        {"retired": "Pot 1"},
        *({"lasted_s": 60.0, "work": done, "after_s": 90_000.0} for done in WORK_KINDS),
        *({"lasted_s": 60.0, "explained_by": done} for done in WORK_KINDS),
    ]
    with speaking(pseudo.READER):
        for made in endings:
            told = outcome(kind, {"outcome": made}, "It ended.")
            assert told is not None and pseudo.never_looked_up(told, NAMES) == set()


def test_an_ending_says_in_german_what_it_says_in_english() -> None:
    watch, dry = Watch(), found("drying-drift", pot())
    watch.sweeps(0, 72, dry, every=4)
    watch.work = [work("re-set-emitter", pot(), 75)]
    alarm = closed(watch, dry, 95)
    assert alarm.outcome == "Back in its band 20 min after the emitter was re-set; it lasted 1 h 35 min."
    with speaking(Choices("de")):
        assert outcome(alarm.kind, alarm.made_of, alarm.outcome) == (
            "Wieder im Sollbereich, 20 min nach dem Neueinstellen des Tropfers; Dauer: 1 h 35 min."
        )


@pytest.mark.parametrize("kind", KINDS)
def test_advice_in_another_language_has_nothing_of_english_but_the_facilitys_own(
    kind: Kind, monkeypatch: pytest.MonkeyPatch
) -> None:
    pseudo.patch(monkeypatch)
    own = {kind: "Ring the caretaker."}
    with speaking(pseudo.READER):
        made = advise(kind, own)
        program = advice(kind, own)
    command = ("wickwatch check",)
    for text in (*made.steps, *made.cautions):
        assert pseudo.never_looked_up(text, command) == set() or "wickwatch" in text
    assert made.own == "Ring the caretaker."
    assert program == advice(kind, own), "a program is told in English whoever is spoken to"


def test_numbers_and_times_are_the_readers() -> None:
    low = found("reservoir-low", reservoir(), harm_at=START + timedelta(hours=12), usable_l=81.6, draw_l_per_h=8.62)
    dry = found("drying-drift", pot(), tension_mbar=191.0, dry_limit_mbar=180.0, slope_mbar_per_day=6.2)
    with speaking(Choices("en", "kPa", "gal", "12h")):
        assert said(raised(low)).startswith("R3 east in Room 3 will be empty about 5:00 pm, in 1")
        assert said(raised(low)).endswith(": 22 gal left, 2.28 gal/h drawn.")
        assert said(raised(dry)) == (
            "Pot 1 in Room 3 is drying out: 19.1 kPa, 0.62 kPa more each day, past its dry limit of 18.0 kPa."
        )
    with speaking(KPA):
        assert "19,1 kPa" in said(raised(dry))


@pytest.mark.parametrize("dry", [1, 2])
def test_a_count_has_its_form(dry: int) -> None:
    empty = raised(found("reservoir-empty", reservoir(), level_mm=12.0, containers=dry))
    with speaking(Choices("de")):
        assert said(empty).endswith({1: "; 1 Gefäß hat kein Wasser.", 2: "; 2 Gefäße haben kein Wasser."}[dry])


def test_an_alarm_of_the_time_before_is_shown_as_stored() -> None:
    alarm = replace(raised(found("drying-drift", pot())), made_of={}, outcome="Back in its band.")
    with speaking(Choices("de")):
        assert said(alarm) == alarm.message
        assert outcome(alarm.kind, alarm.made_of, alarm.outcome) == "Back in its band."


def test_the_journal_rebuilds_what_an_alarm_is_made_of() -> None:
    watch, dry = Watch(), found("drying-drift", pot())
    entries = []
    for minute in (*range(0, 80, 4), *range(80, 3000, 60)):
        entries += watch.sweep_at(minute, *([dry] if minute < 80 else [])).journal
    alarm = watch.only("drying-drift")
    assert set(alarm.made_of) == {"message", "outcome"}
    assert replay(entries) == alarm


def notices(finding: Finding, reader: Choices, *, fallback: bool = False) -> list[NoticeDraft]:
    """What the person on duty is sent of a finding, alone and with another one, and up the ladder."""
    me = OnDuty(1, named("me"), "Me", (Contact(named("mail"), "email", "me@example.org"),))
    alarm = replace(raised(finding), state="unacknowledged")
    other = replace(alarm, id=named("other"), subject=pot(2))
    readers = {me.person_id: reader}
    found = []
    for event in EVENTS:
        one = [Call(alarm, 2, event, 1, me, START)]
        found += leaving(one, {}, fallback, "http://house", HOUSE, START, readers).drafts
    two = [Call(each, 1, "raised", 1, me, START) for each in (alarm, other)]
    return [*found, *leaving(two, {}, fallback, "http://house", HOUSE, START, readers).drafts]


@pytest.mark.parametrize("kind", KINDS)
def test_a_notice_in_another_language_has_nothing_of_english(kind: Kind, monkeypatch: pytest.MonkeyPatch) -> None:
    pseudo.patch(monkeypatch)
    finding = next(finding for finding, _ in SAID if finding.kind == kind)
    plain = replace(finding, evidence={"fault": "jitters"} if kind == "probe-fault" else finding.evidence, harm_at=None)
    plain = replace(plain, evidence={"parts": "taking readings in"} if kind == "monitoring-stopped" else plain.evidence)
    sent = notices(plain, pseudo.READER, fallback=True)
    assert len({draft.title for draft in sent}) > 5 and sent[-1].alarm_id is None
    for draft in sent:
        for text in (draft.title, draft.body.replace("`wickwatch check`", "")):
            words = re.sub(r"http://house\S*", "", text)
            assert pseudo.never_looked_up(words, (*NAMES, "Pot 2")) == set()


def test_a_program_is_told_in_english_whoever_it_stands_for() -> None:
    finding = SAID[0][0]
    for german, english in zip(notices(finding, KPA), notices(finding, Choices()), strict=True):
        assert german.title != english.title and german.body != english.body
        assert german.plain == (english.title, english.body) and english.plain is None
        assert german.payload == english.payload


def test_every_kind_and_work_has_its_words() -> None:
    assert set(AGAIN) == set(KINDS) == set(POLICIES)
    assert set(DONE) == set(CAUSE) == set(names.WORK) == set(WORK_KINDS)
    assert set(names.KINDS) == set(KINDS)
    assert len({names.priority(each) for each in PRIORITIES}) == len(PRIORITIES)
