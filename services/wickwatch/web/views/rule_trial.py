"""What a change of rules would have done, as the page of a place tells it: what would be new, and what would be gone.

Not here: working it out (`watch.rule_trial`).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID
from zoneinfo import ZoneInfo

from wickwatch.alarms import said
from wickwatch.store.rule_trials import STOPPED, Tried
from wickwatch.texts import _, ngettext
from wickwatch.web.views import words
from wickwatch.web.views.rule_words import GROUPS, rule_shown, unit_behind
from wickwatch.web.views.times import Moment, moment, span

#: Alarms of one kind about one thing that were raised this near to one another are the same, moved.
SAME = timedelta(hours=12)

#: Alarms listed at most, of those that would be new and of those that would be gone.
_LISTED = 30


@dataclass(frozen=True)
class Counted:
    """One kind of alarm: how often it was raised as it is, and as it would have been."""

    heading: str
    before: int
    after: int


@dataclass(frozen=True)
class Raised:
    """One alarm that would be new, or gone."""

    at: Moment
    message: str
    called: bool


@dataclass(frozen=True)
class TrialView:
    """A trial under way (`percent`, and what is `left` of it), failed, or done with its counts and lists."""

    id: UUID
    place: str
    rules: str
    span: str
    under_way: bool
    percent: int
    left: str
    failure: str
    sentence: str
    counts: tuple[Counted, ...]
    new: tuple[Raised, ...]
    gone: tuple[Raised, ...]
    more_new: int
    more_gone: int


def trial_view(tried: Tried, zone: ZoneInfo, now: datetime) -> TrialView:
    """A trial as it is shown."""
    lost = tried.lost(now)
    failure = STOPPED if lost else tried.failure
    before, after = _alarms(tried.result, "before"), _alarms(tried.result, "after")
    new, gone = _without(after, before), _without(before, after)
    return TrialView(
        id=tried.id,
        place=tried.name,
        rules=_rules(tried.rules),
        span=span(tried.end - tried.start),
        under_way=tried.done_at is None and not lost,
        percent=round(tried.share * 100),
        left=_left(tried),
        failure=_(failure) if failure else "",
        sentence=_sentence(before, after) if tried.result is not None else "",
        counts=_counts(before, after),
        new=tuple(_raised(each, zone, now) for each in new[:_LISTED]),
        gone=tuple(_raised(each, zone, now) for each in gone[:_LISTED]),
        more_new=max(0, len(new) - _LISTED),
        more_gone=max(0, len(gone) - _LISTED),
    )


def _left(tried: Tried) -> str:
    """How much longer it takes at the pace it had so far; nothing is said before that is known."""
    took = tried.told_at - tried.ordered_at
    return span(took * (1 / tried.share - 1)) if tried.share > 0.02 and took else ""


_Alarm = Mapping[str, Any]


@dataclass(frozen=True)
class _Kept:
    """What an alarm's message is said again from."""

    kind: str
    message: str
    evidence: Mapping[str, Any]
    made_of: Mapping[str, Any]


def _alarms(result: Mapping[str, Any] | None, name: str) -> list[_Alarm]:
    return [] if result is None else list(result[name])


def _calls(alarms: Sequence[_Alarm]) -> int:
    return sum(not alarm["suppressed"] for alarm in alarms)


def _sentence(before: Sequence[_Alarm], after: Sequence[_Alarm]) -> str:
    told = [
        ngettext("%(num)s alarm", "%(num)s alarms", len(found))
        + ", "
        + ngettext("%(num)s call", "%(num)s calls", calls)
        for found, calls in ((before, _calls(before)), (after, _calls(after)))
    ]
    if told[0] == told[1] and not _without(after, before) and not _without(before, after):
        return _("Nothing would have been different: %(told)s.", told=told[0])
    return _("As it is: %(before)s. As it would have been: %(after)s.", before=told[0], after=told[1])


def _counts(before: Sequence[_Alarm], after: Sequence[_Alarm]) -> tuple[Counted, ...]:
    then, would = Counter(each["kind"] for each in before), Counter(each["kind"] for each in after)
    return tuple(
        Counted(words.KINDS[kind], then[kind], would[kind]) for kind in words.KINDS if then[kind] or would[kind]
    )


def _without(alarms: Sequence[_Alarm], others: Sequence[_Alarm]) -> list[_Alarm]:
    """Those of `alarms` that have no like among `others`; each of those is the like of one."""
    left = list(others)
    found = []
    for alarm in alarms:
        like = next((each for each in left if _alike(alarm, each)), None)
        if like is None:
            found.append(alarm)
        else:
            left.remove(like)
    return found


def _alike(one: _Alarm, other: _Alarm) -> bool:
    if one["kind"] != other["kind"] or one["subject"]["id"] != other["subject"]["id"]:
        return False
    return abs(datetime.fromisoformat(one["raised_at"]) - datetime.fromisoformat(other["raised_at"])) <= SAME


def _raised(alarm: _Alarm, zone: ZoneInfo, now: datetime) -> Raised:
    at = datetime.fromisoformat(alarm["raised_at"])
    kept = _Kept(alarm["kind"], alarm["message"], alarm["evidence"], alarm.get("made_of", {}))  # not in older results
    return Raised(moment(at, zone, now), said(kept), not alarm["suppressed"])


def _rules(rules: Mapping[str, float]) -> str:
    labels = {name: one.label for group in GROUPS.values() for name, one in group.items()}
    told = [
        " ".join([_(labels[name]), rule_shown(name, value), unit_behind(name)])
        for name, value in rules.items()
        if name in labels
    ]
    return ", ".join(told) or _("nothing set here")
