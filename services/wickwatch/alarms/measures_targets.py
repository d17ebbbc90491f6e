"""Each measure as it is written, and beside it what the standards aim at, with the source of that figure.

The standards themselves were not at hand: their figures are from several public summaries that agree, unless said
otherwise. They are meant for one operator's position over at least 30 days in a large plant, and the standards
themselves warn that a rate alone proves nothing; a week of a grow room is far below most of them. Not here: how a
measure is taken (`measures`).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import timedelta

from wickwatch.alarms.measures import Measures, PersonMeasures
from wickwatch.alarms.measures_load import WINDOW
from wickwatch.alarms.measures_times import Times
from wickwatch.alarms.words import lasting
from wickwatch.texts import N_, _, number

_BOTH = N_("ANSI/ISA-18.2-2016 and IEC 62682, from summaries")
_NONE = N_("no published target")

#: Below so many alarms the ten most frequent make up more than 5 % by counting alone, so the target says nothing.
_FREQUENT_FROM = 200


@dataclass(frozen=True)
class Target:
    """What a measure should be: in words, where that is published, and the figure it must not exceed.

    `most` is None where there is no such figure; `below` tells that the figure itself is too much.
    """

    text: str
    source: str
    most: float | None = None
    below: bool = False

    def met(self, value: float) -> bool | None:
        """Whether a value is as it should be; None where nothing says."""
        if self.most is None:
            return None
        return value < self.most if self.below else value <= self.most


@dataclass(frozen=True)
class Line:
    """One measure beside its target.

    `value` is in `unit` (count, per day, share 0 to 1, s), None where there was nothing to measure; `shown` is how
    people read it; `met` is None where no target says.
    """

    name: str
    label: str
    value: float | None
    unit: str
    shown: str
    target: str
    source: str
    met: bool | None


#: Targets by the name of their measure. A measure that is not here has none published.
TARGETS: Mapping[str, Target] = {
    "alarms_per_day": Target(
        N_("about 150 or fewer; 300 at most"),
        N_("ANSI/ISA-18.2-2016, from summaries; one of IEC 62682 prints 144 and 288"),
        150,
    ),
    "peak_10_minutes": Target(N_("10 or fewer"), _BOTH, 10),
    "flood_share": Target(N_("less than 1 %%"), _BOTH, 0.01, below=True),
    "frequent_share": Target(N_("1 %% to 5 %% at most, each with a plan"), _BOTH, 0.05),
    "chattering": Target(N_("none"), _BOTH, 0),
    "standing_most_in_a_day": Target(N_("fewer than 5 on any day"), _BOTH, 5, below=True),
    "high_share": Target(N_("about 5 %%"), _BOTH),
    "medium_share": Target(N_("about 15 %%"), _BOTH),
    "low_share": Target(N_("about 80 %%"), _BOTH),
    "alarms_per_10_minutes": Target(N_("under 1"), N_("EEMUA 191 (edition 3), from summaries"), 1, below=True),
}


def lines(measures: Measures) -> tuple[Line, ...]:
    """Every measure of a facility that is one figure, in the order they are read."""
    load, span = measures.load, measures.end - measures.start
    frequent = _line("frequent_share", _("Share of the ten most frequent"), measures.frequent_share, "share", _percent)
    if load.count < _FREQUENT_FROM:
        frequent = replace(
            frequent,
            met=None,
            target=_("%(target)s; says nothing of fewer than %(num)s", target=frequent.target, num=_FREQUENT_FROM),
        )
    return (
        _line("alarms", _("Alarms that asked for somebody"), load.count, "count", _whole),
        _line("alarms_per_day", _("The same per day, as if one person had them all"), load.per_day, "per day", _tenth),
        _line(
            "alarms_per_10_minutes", _("The same per ten minutes"), load.count / (span / WINDOW), "count", _thousandth
        ),
        _line("most_in_a_day", _("Most on one day"), load.most_in_a_day, "count", _whole),
        _line("peak_10_minutes", _("Most in any ten minutes"), load.peak_10_minutes, "count", _whole),
        _line("flood_share", _("Share of time in flood"), load.flood_share, "share", _percent),
        frequent,
        _line("chattering", _("Chattering alarms"), len(measures.chattering), "count", _whole),
        _line("standing", _("Alarms that stood over 24 h"), len(measures.standing), "count", _whole),
        _line("standing_most_in_a_day", _("Most of them on one day"), measures.standing_most_in_a_day, "count", _whole),
        *(
            _line(f"{each}_share", label, measures.priorities.get(each), "share", _percent)
            for each, label in (
                ("high", _("Share of high priority")),
                ("medium", _("Share of medium priority")),
                ("low", _("Share of low priority")),
            )
        ),
        *_times("to_acknowledge", _('Time to "mine"'), measures.to_acknowledge),
        _line("unanswered", _('Alarms to which nobody said "mine"'), measures.unanswered, "count", _whole),
        *_times("to_clear", _("Time until the condition went"), measures.to_clear),
        _line("came_back_share", _("Share that was back within 24 h"), measures.came_back_share, "share", _percent),
    )


def person_lines(person: PersonMeasures) -> tuple[Line, ...]:
    """The measures of one person that are one figure."""
    load = person.load
    return (
        _line("alarms", _("Alarms they were called for"), load.count, "count", _whole),
        _line("alarms_per_day", _("Per day"), load.per_day, "per day", _tenth),
        _line("most_in_a_day", _("Most on one day"), load.most_in_a_day, "count", _whole),
        _line("peak_10_minutes", _("Most in any ten minutes"), load.peak_10_minutes, "count", _whole),
        _line("flood_share", _("Share of time in flood"), load.flood_share, "share", _percent),
        *_times("to_acknowledge", _('Time to "mine"'), person.to_acknowledge),
    )


def _line(name: str, label: str, value: float | None, unit: str, shown: Callable[[float], str]) -> Line:
    target = TARGETS.get(name, Target("", _NONE))
    told, source = _(target.text) if target.text else "", _(target.source)
    if value is None:
        return Line(name, label, None, unit, "–", told, source, None)
    return Line(name, label, value, unit, shown(value), told, source, target.met(value))


def _times(name: str, label: str, took: Times) -> tuple[Line, ...]:
    """Median and ninetieth percentile."""
    return tuple(
        _line(
            f"{name}_{which}_s",
            f"{label}, {words}",
            None if found is None else found.total_seconds(),
            "s",
            lambda seconds: lasting(timedelta(seconds=seconds)),
        )
        for which, words, found in (
            ("median", _("half within"), took.median),
            ("ninetieth", _("nine in ten within"), took.ninetieth),
        )
    )


def _whole(value: float) -> str:
    return number(value)


def _tenth(value: float) -> str:
    return number(value, 1)


def _thousandth(value: float) -> str:
    return number(value, 3)


def _percent(share: float) -> str:
    return f"{number(100.0 * share, 1)} %"
