"""The place: what exists in a facility and which rules apply there, as plain data."""

from wickwatch.fleet.advice import ADVICE_LONGEST, check_advice
from wickwatch.fleet.kept import kept
from wickwatch.fleet.kinds import KINDS, Kind
from wickwatch.fleet.model import (
    QUANTITIES_OF,
    SUBJECT_TYPES,
    Channel,
    Container,
    Facility,
    Gateway,
    Line,
    Reservoir,
    Room,
    Subject,
)
from wickwatch.fleet.rules import RULES, Rule, Rules, as_values, check, inherit
from wickwatch.fleet.work import WORK_KINDS, Work, WorkKind

__all__ = [
    "ADVICE_LONGEST",
    "KINDS",
    "QUANTITIES_OF",
    "RULES",
    "SUBJECT_TYPES",
    "WORK_KINDS",
    "Channel",
    "Container",
    "Facility",
    "Gateway",
    "Kind",
    "Line",
    "Reservoir",
    "Room",
    "Rule",
    "Rules",
    "Subject",
    "Work",
    "WorkKind",
    "as_values",
    "check",
    "check_advice",
    "inherit",
    "kept",
]
