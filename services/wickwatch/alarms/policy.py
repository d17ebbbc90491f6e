"""How each kind of alarm behaves: delays, priority, when it speaks up again. The one place these numbers stand.

Source: chosen here; starting points IEC 62682 / ANSI/ISA-18.2 and EEMUA 191 as quoted (level 60 s, flow and pressure
15 s, for fast plant signals). A pot dries over hours, so minutes rather than seconds fit. The rule followed: an
on-delay where a short excursion needs no action, an off-delay where it does, so that it can't be missed. What comes and
goes with the hours of a day (a drying pot, a leak judged by what others draw) is not over after a good hour, unless
somebody mended it: who said "mine" is not called for it again each time. A simulated month tells how often people are
called for one cause.

Deadbands are not here: only `detect` sees the readings, and it goes on finding a condition, or says that it lasts,
until they are clear of the limit (`detect.constants`). Limits themselves are rules of the place (`fleet.rules`).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Literal

from wickwatch.alarms.model import PRIORITIES, Alarm, Priority
from wickwatch.fleet import Kind, Rules

Consequence = Literal["severe", "moderate", "minor"]

_NONE = timedelta(0)
_S = timedelta(seconds=1)
_M = timedelta(minutes=1)
_H = timedelta(hours=1)

#: A standing condition's row is rewritten with its newest evidence at most this often.
REFRESH = 5 * _M
#: An effect may wait this much longer for a pending cause than the cause's own on-delay.
CAUSE_WAIT = 10 * _M
#: A call waits at most this long for a cause of which only early signs are seen (`Judgement.early`), by kind. Chosen
#: here: a pot's limit is asked in every sweep, and its line may be told only by day; a probe tells nothing meanwhile.
HOLD_MOST: Mapping[Kind, timedelta] = {"drying-drift": 12 * _H, "probe-silent": 6 * _H}
#: A drying pot is on the pages at once and its call waits so long, by priority: what is due in days may be the first of
#: its whole room, which takes two days to become uneven. It calls at once when its limit is due within the day. Chosen
#: here.
FIRST_CALL: Mapping[Priority, timedelta] = {"high": _NONE, "medium": _NONE, "low": 36 * _H}
#: What these have done is often seen only once they are over: it is theirs for the effect's `release`, though it was
#: found after they ended. Chosen here: pots go on drying until their emitter's next pulse.
EXPLAIN_AFTER: frozenset[Kind] = frozenset({"reservoir-empty", "supply-interrupted", "uneven-room"})
#: How long ago a cause may have been raised and still explain what is found after its end.
CAUSE_RAISED_MOST = timedelta(days=21)
#: A condition that returns before anybody answered, or grows worse after somebody did, calls again only when the last
#: call or its answer is this old; a rise to the highest priority does at once.
CALL_AGAIN = 4 * _H
#: A cause that is seen no longer, but can't be said to be over, explains this long; an uneven room longer, since the
#: comparison with the days before forgets what stays as it is, and so a leak, until its water runs out.
EXPLAINS_UNSEEN = 24 * _H
ROOM_EXPLAINS_UNSEEN = 96 * _H
LEAK_EXPLAINS_UNSEEN = 96 * _H
#: A wet container of which no water is seen any more explains what left its reservoir no longer than the longest look
#: for a leak reaches back; what leaves later goes elsewhere.
WET_EXPLAINS_UNSEEN = 8 * _H
#: A pot that is to pass its dry limit so soon calls for itself: neither an uneven room nor others of its room that
#: somebody was called for keep it quiet. Chosen here.
HARM_NEAR = 4 * _H
#: Somebody was called for one part of a room so lately: calls of the same kind for its other parts wait until then and
#: leave together, unless their harm has come. One cause seldom shows everywhere at once. Chosen here.
GATHER: Mapping[Priority, timedelta] = {"high": _NONE, "medium": 12 * _H, "low": 24 * _H}
#: For which kinds, and being called for what counts as being called for the same.
GATHERED: Mapping[Kind, frozenset[Kind]] = {
    "drying-drift": frozenset({"drying-drift", "uneven-room"}),
    "probe-fault": frozenset({"probe-fault"}),
    "probe-silent": frozenset({"probe-silent"}),
}
#: Deadband of priority: it rises only once the time to act is this share below a limit, and it never falls.
DEADBAND = 0.1
#: After an answer an alarm speaks up again at the same priority when harm comes much sooner than was told: less than
#: this share of the time is left, by two hours at least. Chosen here.
SOONER_SHARE = 1 / 3
SOONER_LEAST = 2 * _H
#: The next are called when nobody says "mine" within the time of the rota's step, times this. Chosen here: what is due
#: this week may wait for half a working day.
ESCALATES: Mapping[Priority, int] = {"high": 1, "medium": 1, "low": 24}
#: Calls of these priorities wait for the end of a person's quiet hours.
QUIET: frozenset[Priority] = frozenset({"low"})
#: Shelving and being out of service always end; at most this far ahead. Chosen here: a working day, four weeks.
SHELVE_MOST = 24 * _H
OUT_OF_SERVICE_MOST = timedelta(days=28)

#: Priority by consequence (what is lost if nobody acts) and time to act (until harm), most urgent column first.
TIME_TO_ACT: tuple[timedelta, ...] = (4 * _H, 24 * _H)
PRIORITY_OF: Mapping[Consequence, tuple[Priority, Priority, Priority]] = {
    # within 4 h, within 24 h, later
    "severe": ("high", "medium", "medium"),
    "moderate": ("medium", "medium", "low"),
    "minor": ("low", "low", "low"),
}


@dataclass(frozen=True)
class Policy:
    """Behaviour of one kind.

    `on_delay` runs from the first sweep that saw the condition until the alarm is raised; `off_delay` from the first
    that did not until it clears; where somebody has the alarm and nobody wrote down what mended it, `unaided` runs
    instead. `time_to_act` counts where the finding does not say when harm comes. `worsens` tells
    whether a higher priority re-alarms; `release` is how long an explained alarm may outlast its cause before it calls.
    """

    consequence: Consequence
    time_to_act: timedelta
    on_delay: timedelta
    off_delay: timedelta
    unaided: timedelta
    worsens: bool
    release: timedelta
    why: str


POLICIES: Mapping[Kind, Policy] = {
    # consequence, time to act, on-delay, off-delay, unaided, worsens, release, why
    "drying-drift": Policy(
        "moderate", 24 * _H, 10 * _M, 60 * _M, 24 * _H, True, 8 * _H,
        "one probe's plants; once water is back a very dry pot needs many of its emitter's pulses, and hours to spread",
    ),
    "sudden-wetting": Policy(
        "severe", _H, _NONE, 30 * _M, 6 * _H, True, 2 * _H,
        "water on the floor; the detector has already waited for the usual pulse to end",
    ),
    "reservoir-low": Policy(
        "moderate", 24 * _H, 5 * _M, 15 * _M, 15 * _M, False, 30 * _M,
        "time to refill is left; to be empty is an alarm of its own, so this one never speaks up again",
    ),
    "reservoir-empty": Policy(
        "severe", _H, 20 * _S, 5 * _M, 5 * _M, False, 30 * _M,
        "every pot on its lines; a level moves slowly, so two or three sweeps that agree suffice",
    ),
    "reservoir-leak": Policy(
        "severe", 12 * _H, 10 * _M, 3 * _H, 24 * _H, True, 18 * _H,
        "water on the floor, and an empty reservoir by morning; what it looks back on may have been its cause's water",
    ),
    "supply-interrupted": Policy(
        "severe", 3 * _H, 5 * _M, 2 * _H, 12 * _H, False, 2 * _H,
        "every pot on the line; while a few pots are watered it looks better for an hour, by night for half a day",
    ),
    "uneven-room": Policy(
        "minor", 72 * _H, 60 * _M, 12 * _H, 96 * _H, False, 48 * _H,
        "which emitters to re-set on the next round; it looks back on two days, which its cause may have ended in",
    ),
    "probe-silent": Policy(
        "minor", 24 * _H, 2 * _M, 4 * _H, 4 * _H, False, 30 * _M,
        "one place is not watched; once its gateway is back a probe speaks within its own interval",
    ),
    "probe-fault": Policy(
        "minor", 24 * _H, 15 * _M, 4 * _H, 4 * _H, False, 24 * _H,
        "one place is watched by a probe that lies; one that a drought emptied is refilled once its pot is wet again",
    ),
    "gateway-silent": Policy(
        "moderate", 2 * _H, _M, 5 * _M, 5 * _M, False, 15 * _M,
        "rooms are not watched",
    ),
    "monitoring-stopped": Policy(
        "severe", _H, 30 * _S, 2 * _M, 2 * _M, False, 5 * _M,
        "nothing is watched",
    ),
}  # fmt: skip


#: The longest that anything is explained by what has ended.
RELEASE_MOST = max(each.release for each in POLICIES.values())


def priority(kind: Kind, as_of: datetime, harm_at: datetime | None, deadband: float = 0.0) -> Priority:
    """Priority by consequence and time to act; harm that has come already leaves none.

    `deadband` is the share of a limit by which the time must lie below it.
    """
    policy = POLICIES[kind]
    left = policy.time_to_act if harm_at is None else harm_at - as_of
    column = sum(left > limit * (1 - deadband) for limit in TIME_TO_ACT)
    return PRIORITY_OF[policy.consequence][column]


def much_sooner(as_of: datetime, told: datetime | None, now: datetime | None) -> bool:
    """Whether harm expected `now` comes so much sooner than was told that who has the alarm must know."""
    if told is None or now is None or told - now < SOONER_LEAST:
        return False
    return now - as_of < SOONER_SHARE * (told - as_of)


def on_delay(kind: Kind, rules: Rules) -> timedelta:
    """How long a condition must hold at a place."""
    return POLICIES[kind].on_delay + rules.more_on_delay_minutes * _M


def off_delay(kind: Kind, rules: Rules, *, unaided: bool = False) -> timedelta:
    """How long a condition must be gone at a place; `unaided` where somebody has it and nothing mended it."""
    policy = POLICIES[kind]
    return (policy.unaided if unaided else policy.off_delay) + rules.more_off_delay_minutes * _M


def lingers(cause: Kind, effect: Kind, *, named: bool) -> timedelta:
    """How long after its end a cause explains an effect; `named` where it did so before it ended."""
    return POLICIES[effect].release if named or cause in EXPLAIN_AFTER else _NONE


def explains_unseen(cause: Kind) -> timedelta:
    """How long a cause explains that is seen no longer, but can't be said to be over."""
    unseen: Mapping[Kind, timedelta] = {
        "uneven-room": ROOM_EXPLAINS_UNSEEN,
        "reservoir-leak": LEAK_EXPLAINS_UNSEEN,
        "sudden-wetting": WET_EXPLAINS_UNSEEN,
    }
    return unseen.get(cause, EXPLAINS_UNSEEN)


def may_explain_yet(cause: Alarm, at: datetime) -> bool:
    """Whether a closed alarm may explain what is found at a moment."""
    if cause.kind not in EXPLAIN_AFTER or cause.cleared_at is None or at - cause.raised_at > CAUSE_RAISED_MOST:
        return False
    return at - cause.cleared_at < RELEASE_MOST


def more_urgent(one: Priority, other: Priority) -> bool:
    """Whether the first priority is the more urgent of two."""
    return PRIORITIES.index(one) < PRIORITIES.index(other)
