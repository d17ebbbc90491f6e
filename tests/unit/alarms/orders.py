"""Random orders of events and of whole sweeps, and what must hold after each of them.

Each function runs the seeds it is given and raises AssertionError at the first broken promise; how many seeds a run
takes is the tests' choice (`test_orders` here, and all ten thousand in `tests/reliability`).
"""

from __future__ import annotations

import json
import random
from dataclasses import replace
from datetime import timedelta
from uuid import UUID

from tests.unit.alarms.places import EVERY, GATEWAY, START, Watch, found, line, named, pot, reservoir, room_id
from wickwatch.alarms import (
    ACTS,
    EVENTS,
    Act,
    Alarm,
    JournalEntry,
    PartType,
    Period,
    after,
    apply,
    calls,
    escalate,
    hand_over,
    possible,
    replay,
    step,
    unanswered,
)
from wickwatch.alarms.duty import Contact, Duty, OnDuty
from wickwatch.alarms.journal import advance, entry, opening
from wickwatch.alarms.model import OPEN_TO_PEOPLE, STATES, Event
from wickwatch.alarms.policy import FIRST_CALL, GATHER, GATHERED
from wickwatch.alarms.service import covering
from wickwatch.detect.finding import Finding, Judgement, Key
from wickwatch.errors import RefusedError
from wickwatch.fleet import Kind, Subject

PEOPLE = (named("first person"), named("second person"))
MAILS = [(Contact(named(f"mail {number}"), "email", f"{number}@example.org"),) for number in range(3)]
ON_DUTY = OnDuty(1, PEOPLE[0], "first person", MAILS[0])
ASLEEP = replace(ON_DUTY, quiet_until=START)
BOSS = OnDuty(1, named("boss"), "boss", MAILS[2])
#: A rota with two steps and managers, by day and in the first person's quiet hours; and nobody who can be reached.
DUTIES = (
    Duty((ON_DUTY, OnDuty(2, PEOPLE[1], "second person", MAILS[1])), managers=(BOSS,)),
    Duty((ASLEEP, OnDuty(2, PEOPLE[1], "second person", MAILS[1])), managers=(BOSS,)),
    Duty(),
)
#: What may be taken out of service.
PARTS: tuple[tuple[PartType, Subject], ...] = (
    ("container", pot(1)),
    ("line", line()),
    ("reservoir", reservoir()),
    ("room", Subject("room", room_id(), "Room 3")),
    ("gateway", GATEWAY),
    ("device", Subject("device", named("probe"), "urn:x:31")),
)


def illegal(alarm: Alarm) -> str | None:
    """What is wrong with an alarm by the standard's states, or `None`."""
    rules = {
        "its state is one of the standard's": alarm.state in STATES,
        "closed if and only if normal": (alarm.closed_at is not None) == (alarm.state == "normal"),
        "closed with an outcome": alarm.closed_at is None or bool(alarm.outcome),
        "shelved if and only if with an end": (alarm.shelved_until is not None) == (alarm.state == "shelved"),
        "out of service if and only if with an end": (alarm.out_of_service_until is not None)
        == (alarm.state == "out-of-service"),
        "suppressed only by a cause, while the condition holds": alarm.state != "suppressed-by-design"
        or (alarm.cause_id is not None and alarm.condition_present),
        "a cause only while suppressed, or closed so": alarm.cause_id is None
        or alarm.state in ("suppressed-by-design", "normal"),
        "unacknowledged: condition holds, nobody said mine": alarm.state != "unacknowledged"
        or (alarm.condition_present and alarm.acknowledged_at is None),
        "acknowledged: condition holds, somebody said mine": alarm.state != "acknowledged"
        or (alarm.condition_present and alarm.acknowledged_at is not None),
        "returned: condition gone, nobody said mine": alarm.state != "returned-unacknowledged"
        or (not alarm.condition_present and alarm.acknowledged_at is None),
        "out of service with its place only while out of service": alarm.service_id is None
        or alarm.state == "out-of-service",
        "nobody is called on a rung before it asked": alarm.rung == 0 or alarm.called_at is not None,
        "cleared if and only if the condition is gone": (alarm.cleared_at is not None) == (not alarm.condition_present),
    }
    return next((rule for rule, holds in rules.items() if not holds), None)


def through_json(entries: list[JournalEntry]) -> list[JournalEntry]:
    """The entries as they come back from where they are kept."""
    return [replace(each, detail=json.loads(json.dumps(each.detail))) for each in entries]


DETAILS: dict[str, dict[str, object]] = {
    "cleared": {"outcome": "Back in its band."},
    "retired": {"outcome": "Pot 1 is no longer in the fleet."},
    "suppressed": {"cause": str(named("a cause"))},
    "re-alarmed": {"priority": "high", "message": "Worse.", "evidence": {"tension_mbar": 190.5}, "call": True},
    "returned": {"message": "Again.", "evidence": {"tension_mbar": 155.0, "fault": None}},
    "called": {"call": True},
    "escalated": {"call": True, "rung": 2},
    "handed-over": {"call": True, "rung": 2, "people": [str(named("who takes over"))]},
    "released": {"priority": "medium", "message": "Its cause is over.", "evidence": {"tension_mbar": 160}},
}


def orders_of_events(seeds: range) -> None:
    """No illegal state, and replay equal to the live state, for up to ten events in any order from a new alarm."""
    events: list[Event] = list(possible_everywhere())
    reached: set[str] = set()
    for seed in seeds:
        chance = random.Random(seed)
        first = Alarm(
            named(f"alarm {seed}"), named("birchwood"), None, "drying-drift", pot(), "medium", "unacknowledged", True,
            START, "Dry.", {"tension_mbar": 152.0},
        )  # fmt: skip
        journal = [opening(first)]
        alarm = advance(None, journal[0])
        assert alarm == first
        for minute in range(1, 11):
            event = chance.choice(events)
            at = START + timedelta(minutes=minute)
            until: dict[str, object] = {"until": (at + timedelta(hours=chance.randint(1, 20))).isoformat()}
            detail = until if event in ("shelved", "taken-out-of-service") else DETAILS.get(event)
            if event == "taken-out-of-service" and chance.random() < 0.5:
                detail = until | {"service": str(named("a period"))}
            try:
                one = entry(alarm, event, at, chance.choice(PEOPLE), detail)
            except RefusedError:
                continue
            journal.append(one)
            alarm = advance(alarm, one)
            reached.add(alarm.state)
            assert illegal(alarm) is None, (seed, event, illegal(alarm), alarm)
        assert replay(through_json(journal)) == alarm, seed
        assert alarm.version == len(journal)
    assert reached == set(STATES)


def possible_everywhere() -> set[Event]:
    return {event for state in STATES for event in possible(state)} - {"raised"}


CONDITIONS: dict[Key, Finding] = {
    one.key: one
    for one in (
        found("reservoir-empty", reservoir()),
        found("reservoir-low", reservoir(), harm_at=START + timedelta(hours=20)),
        found("supply-interrupted", line()),
        found("drying-drift", pot(1), harm_at=START + timedelta(hours=40)),
        found("drying-drift", pot(2), explained_by=(("probe-fault", pot(2).id),)),
        found("probe-fault", pot(2), explained_by=(("drying-drift", pot(2).id),)),
        found("sudden-wetting", pot(1)),
        found("probe-silent", pot(1)),
        found("gateway-silent", GATEWAY, room=None),
    )
}
KEYS = sorted(CONDITIONS)
LOOKED_AT = (
    EVERY,
    EVERY,
    EVERY,
    frozenset[Kind]({"reservoir-empty", "probe-silent"}),
    frozenset[Kind]({"drying-drift"}),
)


class Walk:
    """A random life of a house: conditions come and go, people answer, and a pot leaves the fleet at the end."""

    def __init__(self, seed: int) -> None:
        self.chance = random.Random(seed)
        self.watch = Watch()
        self.journals: dict[UUID, list[JournalEntry]] = {}
        self.holding: set[Key] = set()
        self.at = START

    def sweep(self) -> None:
        self.at += timedelta(minutes=self.chance.choice((0, 1, 6, 15, 45, 250)))
        self.watch.duty = self.chance.choice((DUTIES[0], DUTIES[0], *DUTIES))
        self.maintain()
        for key in KEYS:
            if self.chance.random() < 0.15:
                self.holding ^= {key}
        kinds = self.chance.choice(LOOKED_AT)
        unknown = frozenset(key for key in KEYS if key[0] in kinds and self.chance.random() < 0.1)
        sooner = timedelta(hours=self.chance.choice((-30, -10, 0, 50)))
        findings = tuple(
            replace(CONDITIONS[key], harm_at=CONDITIONS[key].harm_at and self.at + timedelta(hours=31) + sooner)
            for key in sorted(self.holding - unknown)
            if key[0] in kinds
        )
        early = frozenset(one.key for one in findings if one.kind == "drying-drift" and self.chance.random() < 0.3)
        judgement = Judgement(self.at, kinds, findings, unknown, early=early)
        before = dict(self.watch.book.alarms)
        for one in self.watch.sweep(judgement).journal:
            self.journals.setdefault(one.alarm_id, []).append(one)
        check_calls(self.watch, before)
        check_untouched(before, self.watch, judgement)
        check_service(self.watch)
        again = step(self.watch.book, judgement, self.watch.place, [], self.watch.periods, self.watch.duty.waiting)
        assert not again, "the same sweep again changes nothing"
        assert not escalate(self.watch.book, self.watch.duty, self.at), "nor does it call anybody further"
        self.hand_over(self.watch.duty)

    def hand_over(self, duty: Duty) -> None:
        """Who has taken over since is called for what nobody has answered, and for nothing else; and once."""
        self.at += timedelta(seconds=1)
        waiting = {alarm.id: alarm for alarm in unanswered(self.watch.book, self.at)}
        called = {id: self.chance.choice(((), (*PEOPLE, BOSS.person_id))) for id in waiting}
        changes = hand_over(list(waiting.values()), duty, called, self.at)
        for one in changes.journal:
            assert waiting[one.alarm_id].state == "unacknowledged" and called[one.alarm_id] == ()
            self.journals[one.alarm_id].append(one)
        for call in calls(changes, duty):
            assert call.rung <= waiting[call.alarm.id].rung, "nobody whose turn it is not yet"
        self.watch.book = after(self.watch.book, changes)
        self.watch.all |= {alarm.id: alarm for alarm in changes.alarms}

    def maintain(self) -> None:
        """Now and then something is taken out of service, or is ready before its time."""
        if self.chance.random() < 0.1:
            (type, part), hours = self.chance.choice(PARTS), self.chance.choice((1, 5))
            until = self.at + timedelta(hours=hours)
            id = named(f"period {len(self.watch.periods)}")
            self.watch.periods.append(Period(id, type, part.id, part.name, self.at, until, "", PEOPLE[0]))
        if self.chance.random() < 0.05:
            self.watch.periods = [
                each if each.ended_at else replace(each, ended_at=self.at, ended_by=PEOPLE[1])
                for each in self.watch.periods
            ]

    def answer(self) -> None:
        alarm = self.chance.choice(sorted(self.watch.book.alarms.values(), key=lambda each: each.key))
        name = self.chance.choice(ACTS)
        until = self.at + timedelta(hours=3) if name in ("shelve", "take-out-of-service") else None
        try:
            changed, one = apply(alarm, Act(name, until), self.chance.choice(PEOPLE), self.at)
        except RefusedError:
            return
        if one is not None:
            self.journals[alarm.id].append(one)
        self.watch.put(changed)

    def retire(self) -> None:
        """The first pot is taken out of the fleet."""
        rooms = tuple(replace(room, containers=room.containers[1:]) for room in self.watch.place.rooms)
        self.watch.place = replace(self.watch.place, rooms=rooms)

    def check(self) -> None:
        alarms = self.watch.all.values()
        for alarm in alarms:
            assert illegal(alarm) is None, (illegal(alarm), alarm)
            assert replay(through_json(self.journals[alarm.id])) == alarm
        open_keys = [alarm.key for alarm in alarms if alarm.closed_at is None]
        assert len(open_keys) == len(set(open_keys)), "never two open alarms of one kind and subject"
        assert set(open_keys) == set(self.watch.book.alarms)


def orders_of_sweeps(seeds: range) -> None:
    """Forty sweeps, answers and maintenance of a whole house in any order."""
    happened: set[str] = set()
    for seed in seeds:
        walk = Walk(seed)
        for number in range(40):
            if number == 35:
                walk.retire()
            if walk.watch.book.alarms and walk.chance.random() < 0.4:
                walk.answer()
            else:
                walk.sweep()
        walk.check()
        happened |= {one.event for journal in walk.journals.values() for one in journal}
    assert happened == set(EVENTS), "the walks together met everything that can happen"


def check_calls(watch: Watch, before: dict[Key, Alarm]) -> None:
    """Nobody is called for an alarm that is explained, answered or put aside, and once only for the others."""
    assert watch.duty is not None
    made = calls(watch.last, watch.duty)
    assert len({(call.alarm.id, call.version, call.person.person_id) for call in made}) == len(made)
    for call in made:
        alarm = watch.all[call.alarm.id]
        assert alarm.state == "unacknowledged", "calls are for alarms that want an answer"
        assert alarm.called_at == watch.last.as_of
        if alarm.key in before and before[alarm.key].state == "acknowledged":
            events = [one.event for one in watch.last.journal if one.alarm_id == alarm.id]
            assert events == ["re-alarmed"], "who said mine is called again only because it is worse"
    new = [
        one for one in watch.last.journal if one.event == "raised" and watch.all[one.alarm_id].state == "unacknowledged"
    ]
    called = {call.alarm.id for call in made}
    for one in new:
        alarm = watch.all[one.alarm_id]
        waits = alarm.priority in watch.duty.waiting
        assert waits or one.alarm_id in called or gathers(watch, alarm), "no new alarm without a call, at once or later"
        assert not (waits and one.alarm_id in called), "nor a call that had to wait"
    for alarm in watch.book.alarms.values():
        if alarm.state == "unacknowledged" and alarm.rung == 0:
            waits = alarm.priority in watch.duty.waiting or gathers(watch, alarm)
            assert waits, "a call waits only while it must"


def gathers(watch: Watch, alarm: Alarm) -> bool:
    """Whether an alarm may wait, since it is due in days or somebody was called for its room lately."""
    at, most = watch.last.as_of, GATHER[alarm.priority]
    if alarm.kind == "drying-drift" and at - alarm.raised_at < FIRST_CALL[alarm.priority]:
        return True
    return at - alarm.raised_at < most and any(
        other.called_at is not None and at - other.called_at < most
        for other in watch.book.alarms.values()
        if other.id != alarm.id and other.room_id == alarm.room_id and other.kind in GATHERED.get(alarm.kind, ())
    )


def check_service(watch: Watch) -> None:
    """What lies under maintenance asks for nobody, and nothing stays out of service longer than its period."""
    out = covering(watch.place, watch.periods, watch.last.as_of)
    for alarm in watch.book.alarms.values():
        assert (alarm.subject.id not in out) or alarm.state == "out-of-service"
        assert alarm.service_id is None or alarm.subject.id in out


def check_untouched(before: dict[Key, Alarm], watch: Watch, judgement: Judgement) -> None:
    """What was not judged, or could not be, neither raises nor clears."""
    seen: set[Kind] = set(judgement.judged)
    for key, alarm in watch.book.alarms.items():
        if (key[0] not in seen or key in judgement.unknown) and key in before:
            assert alarm.condition_present == before[key].condition_present
    for one in watch.last.journal:
        key = watch.all[one.alarm_id].key
        if one.event in ("raised", "cleared", "returned", "released"):
            assert key[0] in seen and key not in judgement.unknown
    assert all(
        alarm.state in (*OPEN_TO_PEOPLE, "shelved", "suppressed-by-design", "out-of-service")
        for alarm in watch.book.alarms.values()
    )
