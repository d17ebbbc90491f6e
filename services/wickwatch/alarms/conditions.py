"""Conditions followed from sweep to sweep: seen, standing, gone, ended.

A kind that a judgement did not look at, and a condition it could not judge, stay as they were; an alarm's condition
holds until it is clear of what was found. What stands is written again only every few minutes, so that a quiet sweep of
a large place writes nothing. Not here: alarms; a condition knows no state, only whether it holds and since when
(`step`).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime, timedelta
from uuid import UUID

from wickwatch.alarms import policy
from wickwatch.alarms.model import Condition, condition_id, plain
from wickwatch.detect.finding import Finding, Judgement, Key
from wickwatch.fleet import Kind, Rules

#: Kinds that are about a probe itself.
OF_PROBES: frozenset[Kind] = frozenset({"probe-fault", "probe-silent"})


def follow(
    conditions: Mapping[Key, Condition],
    judgement: Judgement,
    active: frozenset[Key],
    subjects: Mapping[UUID, Rules],
    unaided: frozenset[Key] = frozenset(),
) -> dict[Key, Condition]:
    """Every open condition after a judgement, those that ended in it too (`ended_at` is its time).

    `active` are keys of alarms whose condition holds: those need their off-delay to end, a pending one ends at once.
    `subjects` are the rules in force at everything there is: what is about something else ends, and a finding about
    such a thing is left out. `unaided` are those of `active` that somebody has and nothing has mended. What a probe
    shows that can't be believed ends no condition of what it measures.
    """
    found: dict[Key, Finding] = {}
    for finding in judgement.findings:
        if finding.subject.id in subjects:
            found.setdefault(finding.key, finding)
    followed = dict(conditions) | {
        key: _seen(each, judgement.as_of) for key, each in found.items() if key not in conditions
    }
    # Probes first: whether they can be believed now decides what becomes of the rest.
    for of_probes in (True, False):
        lying = frozenset() if of_probes else _lying(followed)
        for key, condition in conditions.items():
            if (condition.kind in OF_PROBES) is of_probes:
                blind = key in active and key[1] in lying
                followed[key] = _followed(
                    condition,
                    found.get(key),
                    judgement,
                    subjects,
                    active=key in active,
                    unaided=key in unaided,
                    blind=blind,
                )
    return followed


def _followed(
    condition: Condition,
    finding: Finding | None,
    judgement: Judgement,
    subjects: Mapping[UUID, Rules],
    *,
    active: bool,
    unaided: bool,
    blind: bool,
) -> Condition:
    at, key = judgement.as_of, condition.key
    if condition.subject.id not in subjects:
        return replace(condition, gone_at=condition.gone_at or at, ended_at=at)
    if finding is not None:
        return _seen_again(condition, finding, at)
    put_off = key in judgement.settling and condition.since < judgement.settling[key]
    if active and (put_off or key in judgement.lasting):
        # Worked on and not back yet, so that nobody knows whether that helped; or not clear of it yet.
        return replace(condition, gone_at=None)
    if condition.kind in judgement.judged and key not in judgement.unknown:
        off_delay = policy.off_delay(condition.kind, subjects[condition.subject.id], unaided=unaided)
        return _missed(condition, at, off_delay if active else None, blind=blind)
    return condition


def _seen(finding: Finding, at: datetime) -> Condition:
    return Condition(
        id=condition_id(finding.key, at),
        kind=finding.kind,
        subject=finding.subject,
        room_id=finding.room_id,
        since=finding.since,
        seen_at=at,
        last_seen_at=at,
        evidence=plain(finding.evidence),
        harm_at=finding.harm_at,
        explained_by=tuple(finding.explained_by),
    )


def to_write(before: Condition | None, now: Condition) -> bool:
    """Whether a condition changed enough to be written; new evidence alone is, every few minutes."""
    if before is None or now.last_seen_at - before.last_seen_at >= policy.REFRESH:
        return True
    same = replace(now, last_seen_at=before.last_seen_at, evidence=before.evidence, harm_at=before.harm_at)
    return same != before


def _seen_again(condition: Condition, finding: Finding, at: datetime) -> Condition:
    return replace(
        condition,
        last_seen_at=at,
        evidence=plain(finding.evidence),
        harm_at=finding.harm_at,
        explained_by=tuple(finding.explained_by),
        gone_at=None,
    )


def _missed(condition: Condition, at: datetime, off_delay: timedelta | None, *, blind: bool) -> Condition:
    gone_at = condition.gone_at or at
    over = not blind and (off_delay is None or at - gone_at >= off_delay)
    return replace(condition, gone_at=gone_at, ended_at=at if over else None)


def _lying(conditions: Mapping[Key, Condition]) -> frozenset[UUID]:
    """What is measured by a probe that can't be believed, as long as that is not over for good; what a weak battery
    still tells is true.
    """
    return frozenset(
        condition.subject.id
        for condition in conditions.values()
        if condition.kind == "probe-fault"
        and condition.ended_at is None
        and "battery_percent" not in condition.evidence
    )
