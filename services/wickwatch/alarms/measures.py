"""Whether the alarms help or wear people out: the measures of IEC 62682 and ANSI/ISA-18.2, from the journal.

What counts as an alarm is what asked for somebody: one that its cause explains was seen by nobody, so it is in no
figure but those of conditions (cleared, returned, chattering). Pure: the same journal gives the same measures, so a
backtest of changed rules is measured as life is. Not here: reading the journal (`store.measures`), or how a figure is
written and what the standards aim at (`measures_targets`).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import pandas as pd

from wickwatch.alarms.measures_load import MOST_FREQUENT, Frequent, Load, load, most_frequent
from wickwatch.alarms.measures_times import (
    Answered,
    Chattering,
    Standing,
    Times,
    answers,
    chattering,
    cleared,
    most_standing_in_a_day,
    standing,
    times,
)
from wickwatch.alarms.model import PRIORITIES

#: What lies this long before a span still matters to it: a flood that goes on, a night of chattering.
BEFORE = timedelta(hours=24)
#: What lies this long after a span still matters to it: what came back.
AFTER = timedelta(hours=24)


@dataclass(frozen=True)
class PersonMeasures:
    """One person: what they were called for, and how soon they said "mine"."""

    person_id: str
    name: str
    load: Load
    to_acknowledge: Times


@dataclass(frozen=True)
class Measures:
    """The measures of one facility over [start, end).

    `load` is that of everybody together, as if one person had answered every alarm; `people` are those who were
    called or answered, by name. `priorities` is the share of each priority, 0 to 1, empty where nothing asked.
    `frequent_share` is the share of all that the ten most frequent make up. `unanswered` counts those that asked and
    to which nobody said "mine"; `came_back` counts those of `to_clear` that were there again within a day.
    """

    start: datetime
    end: datetime
    load: Load
    people: tuple[PersonMeasures, ...]
    priorities: Mapping[str, float]
    frequent: tuple[Frequent, ...]
    frequent_share: float
    chattering: tuple[Chattering, ...]
    standing: tuple[Standing, ...]
    standing_most_in_a_day: int
    to_acknowledge: Times
    unanswered: int
    to_clear: Times
    came_back: int

    @property
    def came_back_share(self) -> float | None:
        """Share of conditions that went and were there again within a day, 0 to 1; None where none went."""
        return self.came_back / self.to_clear.count if self.to_clear.count else None


def measure(
    journal: pd.DataFrame,
    calls: pd.DataFrame,
    start: datetime,
    end: datetime,
    zone: ZoneInfo,
    names: Mapping[str, str] | None = None,
) -> Measures:
    """All measures of a facility over [start, end), where `end` is no later than now.

    `journal` has the columns `measures_frame.JOURNAL` and holds every alarm that was open in the span, from its first
    entry, with what happened from `BEFORE` before to `AFTER` after it. `calls` has the columns `measures_frame.CALLS`;
    it may be empty, as for a backtest. `names` are people by id, for those who answered without having been called.
    """
    known = journal[journal["at"] < end]
    asked = known[known["call"]]
    within = asked[asked["at"] >= start]
    answered = [one for one in answers(known) if start <= one.asked_at < end]
    stale = standing(known, start, end)
    gone = cleared(journal, start, end)
    frequent = most_frequent(within, MOST_FREQUENT)
    took = _took(answered)
    called_as = dict(zip(calls["person_id"], calls["person"], strict=True))
    people = [
        PersonMeasures(
            person_id=id,
            name=called_as.get(id) or (names or {}).get(id, ""),
            load=load(calls[(calls["person_id"] == id) & (calls["at"] < end)]["at"], start, end, zone),
            to_acknowledge=times(took.get(id, [])),
        )
        for id in {*calls[(calls["at"] >= start) & (calls["at"] < end)]["person_id"], *took}
    ]
    return Measures(
        start=start,
        end=end,
        load=load(asked["at"], start, end, zone),
        people=tuple(sorted(people, key=lambda person: (person.name.lower(), person.person_id))),
        priorities={each: float((within["priority"] == each).mean()) for each in PRIORITIES} if len(within) else {},
        frequent=frequent,
        frequent_share=sum(each.share for each in frequent),
        chattering=chattering(known, start, end),
        standing=stale,
        standing_most_in_a_day=most_standing_in_a_day(stale, start, end, zone),
        to_acknowledge=times([each for theirs in took.values() for each in theirs]),
        unanswered=sum(one.answered_at is None for one in answered),
        to_clear=times([one.cleared_at - one.active_at for one in gone]),
        came_back=sum(one.came_back for one in gone),
    )


def _took(answered: Sequence[Answered]) -> dict[str, list[timedelta]]:
    """How long each person's answers took."""
    found: dict[str, list[timedelta]] = {}
    for one in answered:
        if one.person_id is not None and one.answered_at is not None:
            found.setdefault(one.person_id, []).append(one.answered_at - one.asked_at)
    return found
