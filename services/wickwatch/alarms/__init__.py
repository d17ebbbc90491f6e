"""The alarm's life towards people: states, causes, messages, calls. Pure: no database, clock or network."""

from wickwatch.alarms.advice import CAUTIONS, STEPS, Advice, advice, advise
from wickwatch.alarms.answer import ACTS, Act, ActName, apply
from wickwatch.alarms.as_json import as_json, in_json
from wickwatch.alarms.calls import NoticeDraft, asking, calls, link, notice_key
from wickwatch.alarms.duty import Contact, Duty, OnDuty
from wickwatch.alarms.ending import AGAIN, DONE
from wickwatch.alarms.journal import replay
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
    after,
)
from wickwatch.alarms.policy import POLICIES, Policy
from wickwatch.alarms.step import step
from wickwatch.alarms.transitions import TRANSITIONS, Transition, possible

__all__ = [
    "ACTS",
    "AGAIN",
    "CAUTIONS",
    "DONE",
    "EVENTS",
    "OPEN_TO_PEOPLE",
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
    "Changes",
    "Condition",
    "Contact",
    "Duty",
    "Event",
    "JournalEntry",
    "NoticeDraft",
    "OnDuty",
    "Policy",
    "Priority",
    "State",
    "Transition",
    "advice",
    "advise",
    "after",
    "apply",
    "as_json",
    "asking",
    "calls",
    "in_json",
    "link",
    "notice_key",
    "possible",
    "replay",
    "step",
]
