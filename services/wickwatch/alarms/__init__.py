"""The alarm's life towards people: states, causes, messages, calls. Pure: no database, clock or network."""

from wickwatch.alarms.advice import CAUTIONS, STEPS, Advice, advice, advise
from wickwatch.alarms.answer import ACTS, Act, ActName, apply
from wickwatch.alarms.as_json import as_json, in_json
from wickwatch.alarms.calls import Leaving, NoticeDraft, Told, asking, calls, leaving, notice_key
from wickwatch.alarms.carried import after
from wickwatch.alarms.duty import Contact, Duty, OnDuty
from wickwatch.alarms.ending import AGAIN, DONE, outcome
from wickwatch.alarms.escalation import escalate
from wickwatch.alarms.flood import Call, Load
from wickwatch.alarms.handing_over import hand_over, unanswered
from wickwatch.alarms.journal import as_of, replay
from wickwatch.alarms.message import said
from wickwatch.alarms.model import (
    EVENTS,
    OPEN_TO_PEOPLE,
    PRIORITIES,
    STATES,
    Alarm,
    Book,
    Changes,
    Condition,
    Event,
    JournalEntry,
    Priority,
    State,
)
from wickwatch.alarms.policy import POLICIES, Policy
from wickwatch.alarms.service import PART_TYPES, PartType, Period
from wickwatch.alarms.step import step
from wickwatch.alarms.transitions import TRANSITIONS, Transition, possible

__all__ = [
    "ACTS",
    "AGAIN",
    "CAUTIONS",
    "DONE",
    "EVENTS",
    "OPEN_TO_PEOPLE",
    "PART_TYPES",
    "POLICIES",
    "PRIORITIES",
    "STATES",
    "STEPS",
    "TRANSITIONS",
    "Act",
    "ActName",
    "Advice",
    "Alarm",
    "Book",
    "Call",
    "Changes",
    "Condition",
    "Contact",
    "Duty",
    "Event",
    "JournalEntry",
    "Leaving",
    "Load",
    "NoticeDraft",
    "OnDuty",
    "PartType",
    "Period",
    "Policy",
    "Priority",
    "State",
    "Told",
    "Transition",
    "advice",
    "advise",
    "after",
    "apply",
    "as_json",
    "as_of",
    "asking",
    "calls",
    "escalate",
    "hand_over",
    "in_json",
    "leaving",
    "notice_key",
    "outcome",
    "possible",
    "replay",
    "said",
    "step",
    "unanswered",
]
