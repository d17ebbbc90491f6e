"""The sentences and labels that more than one page uses, for a tired person who grows plants.

Not here: an alarm's own message and advice, which `alarms` writes for pages and notices alike.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from wickwatch.texts import N_, Words, _, ngettext

#: What is wrong, as a heading.
KINDS = Words(
    {
        "drying-drift": N_("Drying out"),
        "sudden-wetting": N_("Suddenly wet"),
        "reservoir-low": N_("Reservoir low"),
        "reservoir-empty": N_("Reservoir empty"),
        "reservoir-leak": N_("Reservoir leaks"),
        "supply-interrupted": N_("Supply interrupted"),
        "uneven-room": N_("Uneven room"),
        "probe-silent": N_("Probe silent"),
        "probe-fault": N_("Probe fault"),
        "gateway-silent": N_("Gateway silent"),
        "monitoring-stopped": N_("Watching stopped"),
    }
)

#: How soon somebody is needed.
PRIORITIES = Words({"high": N_("Now"), "medium": N_("Today"), "low": N_("This week")})

#: In place of that where the condition has gone.
OVER = N_("Over")

#: Where an alarm stands.
STATES = Words(
    {
        "unacknowledged": N_("nobody has it yet"),
        "acknowledged": N_("somebody has it"),
        "returned-unacknowledged": N_("went by itself, not yet acknowledged"),
        "normal": N_("over"),
        "shelved": N_("shelved"),
        "suppressed-by-design": N_("explained by another alarm"),
        "out-of-service": N_("out of service"),
    }
)

#: What happened to an alarm.
EVENTS = Words(
    {
        "raised": N_("Raised"),
        "cleared": N_("Condition went"),
        "returned": N_("Condition came back"),
        "re-alarmed": N_("Raised again"),
        "suppressed": N_("Explained by another alarm"),
        "released": N_("No longer explained"),
        "shelving-over": N_("Shelving ended"),
        "service-over": N_("Back in service, its time was over"),
        "retired": N_("No longer in the fleet"),
        "called": N_("Called, after it had to wait"),
        "escalated": N_("Nobody had it, so the next were called"),
        "handed-over": N_("Nobody had it when the duty changed hands, so who took over was called"),
        "acknowledged": N_("Acknowledged"),
        "shelved": N_("Shelved"),
        "unshelved": N_("Taken off the shelf"),
        "taken-out-of-service": N_("Taken out of service"),
        "returned-to-service": N_("Back in service"),
    }
)

#: What a person did, as it is chosen in a form.
WORK = Words(
    {
        "refilled": N_("Refilled the reservoir"),
        "purged": N_("Purged air from the line"),
        "cleaned-filter": N_("Cleaned the filter"),
        "opened-valve": N_("Opened a valve"),
        "mended-leak": N_("Stopped a leak"),
        "re-set-emitter": N_("Re-set the emitter"),
        "replaced-emitter": N_("Replaced the emitter"),
        "watered-by-hand": N_("Watered by hand"),
        "refilled-probe": N_("Refilled the probe with water"),
        "replaced-probe": N_("Replaced the probe or its battery"),
        "moved-probe": N_("Moved the probe here"),
        "set-up": N_("Set up the plant and its emitter"),
        "pruned": N_("Pruned"),
        "removed-plant": N_("Took the plant out"),
        "maintenance": N_("Other maintenance"),
        "checked": N_("Looked, nothing to do"),
    }
)

#: What is most likely done about each kind of alarm, offered first in its form.
USUAL_WORK: Mapping[str, str] = {
    "drying-drift": "re-set-emitter",
    "sudden-wetting": "re-set-emitter",
    "reservoir-low": "refilled",
    "reservoir-empty": "refilled",
    "reservoir-leak": "mended-leak",
    "supply-interrupted": "opened-valve",
    "probe-silent": "replaced-probe",
    "probe-fault": "refilled-probe",
}

#: The same in a sentence that goes on.
DID = Words(
    {
        "refilled": N_("refilled the reservoir"),
        "purged": N_("purged air from the line"),
        "cleaned-filter": N_("cleaned the filter"),
        "opened-valve": N_("opened a valve"),
        "mended-leak": N_("stopped a leak"),
        "re-set-emitter": N_("re-set the emitter"),
        "replaced-emitter": N_("replaced the emitter"),
        "watered-by-hand": N_("watered by hand"),
        "refilled-probe": N_("refilled the probe with water"),
        "replaced-probe": N_("replaced the probe or its battery"),
        "moved-probe": N_("moved the probe here"),
        "set-up": N_("set up the plant and its emitter"),
        "pruned": N_("pruned"),
        "removed-plant": N_("took the plant out"),
        "maintenance": N_("other maintenance"),
        "checked": N_("looked, nothing to do"),
    }
)

#: What a thing is called before its name.
SUBJECTS = Words(
    {
        "facility": N_("Facility"),
        "room": N_("Room"),
        "reservoir": N_("Reservoir"),
        "line": N_("Supply line"),
        "container": N_("Container"),
        "gateway": N_("Gateway"),
    }
)

#: The same in a sentence.
THINGS = Words(
    {
        "facility": N_("facility"),
        "room": N_("room"),
        "reservoir": N_("reservoir"),
        "line": N_("supply line"),
        "container": N_("container"),
        "gateway": N_("gateway"),
    }
)

#: How a person is called.
WAYS = Words(
    {
        "email": N_("e-mail"),
        "webhook": N_("webhook"),
        "push": N_("message on a device"),
        "service": N_("another service"),
    }
)

NOTICE_STATES = Words(
    {
        "queued": N_("waiting to leave"),
        "sent": N_("sent"),
        "dead": N_("could not be sent"),
        "withdrawn": N_("no longer needed"),
    }
)

#: What somebody is in a facility.
ROLES = Words(
    {
        "viewer": N_("viewer"),
        "grower": N_("grower"),
        "manager": N_("manager"),
        "administrator": N_("administrator"),
    }
)

#: Where a container's tension lies.
PLACES = Words(
    {
        "in-band": N_("in the band"),
        "dry": N_("too dry"),
        "wet": N_("too wet"),
        "silent": N_("not heard lately"),
        "unread": N_("no reading yet"),
    }
)


def names(listed: Sequence[str], most: int = 3) -> str:
    """A list in a sentence: A, B and C; A, B, C and 4 more."""
    if len(listed) > most:
        more = len(listed) - most
        return ngettext(
            "%(names)s and %(num)s more", "%(names)s and %(num)s more", more, names=", ".join(listed[:most])
        )
    if len(listed) < 2:
        return "".join(listed)
    return _("%(names)s and %(last)s", names=", ".join(listed[:-1]), last=listed[-1])
