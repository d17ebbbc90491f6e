"""What detectors say: findings, and what they could not judge.

Not here: what becomes of a finding towards people; that is an alarm's life (`alarms`).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from uuid import UUID

from wickwatch.fleet import Kind, Subject

Value = float | int | str | bool | None

#: Identifies a condition: its kind and the id of its subject.
Key = tuple[Kind, UUID]


@dataclass(frozen=True)
class Finding:
    """One abnormal condition at one moment.

    `since` is the estimated onset. `harm_at` is when harm is expected if nobody acts (dry limit reached, reservoir
    empty), `None` where it has come or can't be told. `evidence` holds the numbers behind it, units in the names.
    `explained_by` are conditions which, if they hold too, explain this one, the likeliest first.
    """

    kind: Kind
    subject: Subject
    room_id: UUID | None
    since: datetime
    evidence: Mapping[str, Value]
    harm_at: datetime | None = None
    explained_by: tuple[Key, ...] = ()

    @property
    def key(self) -> Key:
        """What the condition is known by."""
        return self.kind, self.subject.id


@dataclass(frozen=True)
class Judgement:
    """What one sweep found.

    `judged` are the kinds looked at in this sweep: a condition of another kind stays as it was. `unknown` are
    conditions of judged kinds for which the readings do not suffice (a silent probe): those stay as they were, too.
    `settling` are conditions of judged kinds that were not looked for, because their subject settles after work and
    is not back yet: those hold on, unless they began at the moment given or later. Those the work explains.
    `lasting` are conditions of judged kinds that can't be said to be over, whether they are found or not: a wet
    container that has not recovered, an empty reservoir not clear of it. Those that stand hold on; none begins by it.
    `early` are findings of this judgement that may be the first sign of something larger (a line that is cut off, a
    room whose emitters move, a gateway that falls silent), which others show signs of, too; their own harm is far off,
    so that a call can wait.
    """

    as_of: datetime
    judged: frozenset[Kind]
    findings: tuple[Finding, ...] = ()
    unknown: frozenset[Key] = field(default_factory=frozenset)
    settling: Mapping[Key, datetime] = field(default_factory=dict)
    early: frozenset[Key] = field(default_factory=frozenset)
    lasting: frozenset[Key] = field(default_factory=frozenset)
