"""Rules by which a call counts as right, as a consequence, or as false. Data only; `score` applies them.

1. A call is an alarm that is neither suppressed nor explained by another (`cause`). Others are read over.
2. A call is *right* for an event if kind, facility, room and subject agree and it was raised between the event's
   onset (less `EARLY_H`) and its end (plus `GRACE_H`). A subject agrees by id, slug or name. Several for one event
   are right; the first counts for its delay.
3. Else it is a *consequence* if an event that lasts at that moment (plus the same grace) lists its kind in `FOLLOWS`
   for where its subject stands: on the event's own subject, on a subject the truth lists as explained, or in its
   room. Consequences are neither found nor false; a watcher should have explained them, so they are counted.
4. Else it is *false*.
5. An event is to be found if the truth gives it an alarm kind, an onset (it came to that), and does not say
   `required: false`; and if it lasted, or the period went on, for `PATIENCE_H` after its onset. It is *found* if a
   call is right for it. Delay counts from onset, never below 0. A drying-drift in a container whose plant was taken out
   meanwhile, and that never passed its dry limit, need not be found: nothing drank, so nothing got drier.
6. A false call *mistakes* an event if it falls into it (plus `MISTAKE_H`) on its subject, or in its room if the
   subject is a room.
7. A run-out is to be foretold unless a leak or an emitter stuck open on its reservoir (`TAKES_WATER`) began later than
   `FORETOLD_H` before it: who looks that early can't know of water that has not begun to leave. Such run-outs are not
   counted at all, whether a call came or not; the leak and the emitter are to be found by their own kinds, and the
   empty reservoir by `reservoir-empty`.
8. A call that came too early to be right stays what it is, most often false. But if its alarm still stands at the onset
   of an event of its kind on its subject, that event is found by it: nobody is called again for what they have.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal

Where = Literal["subject", "explained", "room"]

#: Hours after an event's end in which a call is still for it: what is judged slowly is called late.
GRACE_H: Mapping[str, float] = {
    "drying-drift": 24.0,
    "uneven-room": 24.0,
    "reservoir-leak": 6.0,
    "supply-interrupted": 6.0,
    "probe-fault": 6.0,
}
GRACE_OTHER_H = 1.0

#: Hours before its onset in which a call is right: a forecast by nature; empty because a level sensor's noise of a
#: millimetre or two is what a line takes in an hour or two by night, and water in the tubing still feeds then.
EARLY_H: Mapping[str, float] = {"reservoir-low": 24.0, "reservoir-empty": 2.0}

#: Hours an event must be there before missing it counts.
PATIENCE_H: Mapping[str, float] = {
    "sudden-wetting": 3.0,
    "drying-drift": 24.0,
    "reservoir-leak": 12.0,
    "supply-interrupted": 12.0,
    "uneven-room": 72.0,
    "probe-fault": 6.0,
    "probe-silent": 1.0,
    "reservoir-empty": 0.5,
    "gateway-silent": 0.5,
}
PATIENCE_OTHER_H = 1.0

#: Kinds that may follow from an event, and where.
FOLLOWS: Mapping[str, Mapping[Where, tuple[str, ...]]] = {
    # Its water leaves the reservoir: a call for that names the same loss.
    "stuck-open": {"room": ("uneven-room", "reservoir-leak", "reservoir-low")},
    "drifting": {"room": ("uneven-room",)},
    # A probe in a pot that dries out comes to its limit.
    "clogged": {"subject": ("probe-fault",), "room": ("uneven-room",)},
    "closed-valve": {"explained": ("drying-drift",), "room": ("uneven-room",)},
    "air-lock": {"explained": ("drying-drift",), "room": ("uneven-room",)},
    "empty-reservoir": {
        "subject": ("reservoir-low",),
        "explained": ("drying-drift", "supply-interrupted"),
        "room": ("uneven-room",),
    },
    "ran-dry": {
        "subject": ("reservoir-low",),
        "explained": ("drying-drift", "supply-interrupted"),
        "room": ("uneven-room",),
    },
    "reservoir-leak": {"subject": ("reservoir-low",)},
    "uneven-room": {"room": ("drying-drift",)},
    "low-battery": {"subject": ("probe-silent",)},
    "silent-gateway": {"explained": ("probe-silent",)},
}

#: Hours after an event's end in which a false call is laid to it: a pot watered by hand is wet for about so long.
MISTAKE_H = 12.0

#: A run-out counts as foretold if a `reservoir-low` call came this many hours ahead, or a call for what explains it: an
#: alarm with a known cause calls nobody, its cause does (or the cause of that), and whoever is called for water that
#: leaves sees the low reservoir with it.
FORETOLD_H = 12.0

#: Faults that take a reservoir's water at once.
TAKES_WATER = ("reservoir-leak", "stuck-open")
MONTH_DAYS = 30.0
