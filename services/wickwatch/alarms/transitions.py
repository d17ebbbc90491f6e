"""The alarm's life as one table: state and event to state, as IEC 62682 / ANSI/ISA-18.2 mean them.

                 ┌───────────────────── A raised ─────────────────────────┐
                 │                                                        ▼
              normal ◄─ G acknowledged ─ returned-unacknowledged ◄─ C ─ unacknowledged ◄┐ D re-alarmed
                 ▲                               └─────── H returned ───────▲ │  └──────┘
                 │                                            F re-alarmed │ │ B acknowledged
                 └──────────────────── E cleared ──────────────────── acknowledged

    an unacknowledged alarm calls once its call no longer has to wait (U), the next rung while nobody answers (V), and
    who takes over from somebody who was called (W).
    from these three, and out of service from any open state:
        I shelved ──────────────► shelved               until its end (K) or a person says so (L)
        M suppressed ───────────► suppressed-by-design   while its cause lasts; N cleared closes it, O released ends it
        P taken-out-of-service ─► out-of-service         until its end (R) or a person says so (S)
    where they end the alarm is unacknowledged if the condition holds, else normal.

A condition may come and go while an alarm is shelved or out of service (J, Q): that is recorded and calls nobody.
Three rows go beyond the standard's diagram as it is usually drawn: an unacknowledged alarm may re-alarm (D), since it
may have been called at a lower priority; a suppressed alarm whose condition goes is closed at once (N), since nobody
was told of it and nobody needs to be; and what it is about may leave the fleet (T). "Latched" states are not used.

Not here: when an event happens (`step`, `answer`), nor what else it changes in an alarm (`journal`).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from wickwatch.alarms.model import EVENTS, PERSON_EVENTS, Event, State
from wickwatch.errors import RefusedError
from wickwatch.texts import _


@dataclass(frozen=True)
class Transition:
    """One row: from `state`, `event` leads to `present` if the condition holds after it, else to `absent`.

    `None` where the event can't leave the condition so.
    """

    letter: str
    state: State
    event: Event
    present: State | None
    absent: State | None


TRANSITIONS: tuple[Transition, ...] = (
    Transition("A", "normal", "raised", "unacknowledged", None),
    Transition("B", "unacknowledged", "acknowledged", "acknowledged", None),
    Transition("C", "unacknowledged", "cleared", None, "returned-unacknowledged"),
    Transition("D", "unacknowledged", "re-alarmed", "unacknowledged", None),
    Transition("U", "unacknowledged", "called", "unacknowledged", None),
    Transition("V", "unacknowledged", "escalated", "unacknowledged", None),
    Transition("W", "unacknowledged", "handed-over", "unacknowledged", None),
    Transition("E", "acknowledged", "cleared", None, "normal"),
    Transition("F", "acknowledged", "re-alarmed", "unacknowledged", None),
    Transition("G", "returned-unacknowledged", "acknowledged", None, "normal"),
    Transition("H", "returned-unacknowledged", "returned", "unacknowledged", None),
    Transition("I", "unacknowledged", "shelved", "shelved", None),
    Transition("I", "acknowledged", "shelved", "shelved", None),
    Transition("I", "returned-unacknowledged", "shelved", None, "shelved"),
    Transition("I", "shelved", "shelved", "shelved", "shelved"),
    Transition("J", "shelved", "cleared", None, "shelved"),
    Transition("J", "shelved", "returned", "shelved", None),
    Transition("K", "shelved", "shelving-over", "unacknowledged", "normal"),
    Transition("L", "shelved", "unshelved", "unacknowledged", "normal"),
    Transition("M", "unacknowledged", "suppressed", "suppressed-by-design", None),
    Transition("M", "acknowledged", "suppressed", "suppressed-by-design", None),
    Transition("M", "suppressed-by-design", "suppressed", "suppressed-by-design", None),
    Transition("N", "suppressed-by-design", "cleared", None, "normal"),
    Transition("O", "suppressed-by-design", "released", "unacknowledged", None),
    Transition("P", "unacknowledged", "taken-out-of-service", "out-of-service", None),
    Transition("P", "acknowledged", "taken-out-of-service", "out-of-service", None),
    Transition("P", "returned-unacknowledged", "taken-out-of-service", None, "out-of-service"),
    Transition("P", "shelved", "taken-out-of-service", "out-of-service", "out-of-service"),
    Transition("P", "suppressed-by-design", "taken-out-of-service", "out-of-service", None),
    Transition("P", "out-of-service", "taken-out-of-service", "out-of-service", "out-of-service"),
    Transition("Q", "out-of-service", "cleared", None, "out-of-service"),
    Transition("Q", "out-of-service", "returned", "out-of-service", None),
    Transition("R", "out-of-service", "service-over", "unacknowledged", "normal"),
    Transition("S", "out-of-service", "returned-to-service", "unacknowledged", "normal"),
    Transition("T", "unacknowledged", "retired", None, "normal"),
    Transition("T", "acknowledged", "retired", None, "normal"),
    Transition("T", "returned-unacknowledged", "retired", None, "normal"),
    Transition("T", "shelved", "retired", None, "normal"),
    Transition("T", "suppressed-by-design", "retired", None, "normal"),
    Transition("T", "out-of-service", "retired", None, "normal"),
)

_BY_START: Mapping[tuple[State, Event], Transition] = {(row.state, row.event): row for row in TRANSITIONS}

#: Whether the condition holds after an event; for events not named it stays as it was.
CONDITION_AFTER: Mapping[Event, bool] = {
    "raised": True,
    "returned": True,
    "cleared": False,
    "retired": False,
}


def next_state(state: State, event: Event, condition_present: bool) -> State:
    """State after `event`, where `condition_present` tells whether the condition holds after it.

    Raises RefusedError, naming what a person can do in `state`, where the table has no such row.
    """
    row = _BY_START.get((state, event))
    to = None if row is None else row.present if condition_present else row.absent
    if to is None:
        can = [each for each in possible(state) if each in PERSON_EVENTS]
        raise RefusedError(
            _(
                "an alarm that is %(state)s can't be %(event)s; it can be: %(value)s",
                state=state,
                event=event,
                value=", ".join(can) or _("nothing more"),
            )
        )
    return to


def possible(state: State) -> tuple[Event, ...]:
    """Events an alarm in this state can take, in the order of `EVENTS`."""
    return tuple(event for event in EVENTS if (state, event) in _BY_START)
