"""The sentences and labels that more than one page uses, for a tired person who grows plants.

Not here: an alarm's own message and advice, which `alarms` writes for pages and notices alike.
"""

from __future__ import annotations

from collections.abc import Mapping

#: What is wrong, as a heading.
KINDS: Mapping[str, str] = {
    "drying-drift": "Drying out",
    "sudden-wetting": "Suddenly wet",
    "reservoir-low": "Reservoir low",
    "reservoir-empty": "Reservoir empty",
    "reservoir-leak": "Reservoir leaks",
    "supply-interrupted": "Supply interrupted",
    "uneven-room": "Uneven room",
    "probe-silent": "Probe silent",
    "probe-fault": "Probe fault",
    "gateway-silent": "Gateway silent",
    "monitoring-stopped": "Watching stopped",
}

#: How soon somebody is needed.
PRIORITIES: Mapping[str, str] = {"high": "Now", "medium": "Today", "low": "This week"}

#: In place of that where the condition has gone.
OVER = "Over"

#: Where an alarm stands.
STATES: Mapping[str, str] = {
    "unacknowledged": "nobody has it yet",
    "acknowledged": "somebody has it",
    "returned-unacknowledged": "went by itself, not yet acknowledged",
    "normal": "over",
    "shelved": "shelved",
    "suppressed-by-design": "explained by another alarm",
    "out-of-service": "out of service",
}

#: What happened to an alarm.
EVENTS: Mapping[str, str] = {
    "raised": "Raised",
    "cleared": "Condition went",
    "returned": "Condition came back",
    "re-alarmed": "Raised again",
    "suppressed": "Explained by another alarm",
    "released": "No longer explained",
    "shelving-over": "Shelving ended",
    "service-over": "Back in service, its time was over",
    "retired": "No longer in the fleet",
    "called": "Called, after it had to wait",
    "escalated": "Nobody had it, so the next were called",
    "handed-over": "Nobody had it when the duty changed hands, so who took over was called",
    "acknowledged": "Acknowledged",
    "shelved": "Shelved",
    "unshelved": "Taken off the shelf",
    "taken-out-of-service": "Taken out of service",
    "returned-to-service": "Back in service",
}

#: What a person did, as it is chosen in a form.
WORK: Mapping[str, str] = {
    "refilled": "Refilled the reservoir",
    "purged": "Purged air from the line",
    "cleaned-filter": "Cleaned the filter",
    "opened-valve": "Opened a valve",
    "mended-leak": "Stopped a leak",
    "re-set-emitter": "Re-set the emitter",
    "replaced-emitter": "Replaced the emitter",
    "watered-by-hand": "Watered by hand",
    "refilled-probe": "Refilled the probe with water",
    "replaced-probe": "Replaced the probe or its battery",
    "moved-probe": "Moved the probe here",
    "set-up": "Set up the plant and its emitter",
    "pruned": "Pruned",
    "removed-plant": "Took the plant out",
    "maintenance": "Other maintenance",
    "checked": "Looked, nothing to do",
}

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

#: What a thing is called before its name.
SUBJECTS: Mapping[str, str] = {
    "facility": "Facility",
    "room": "Room",
    "reservoir": "Reservoir",
    "line": "Supply line",
    "container": "Container",
    "gateway": "Gateway",
}

#: How a person is called.
WAYS: Mapping[str, str] = {
    "email": "e-mail",
    "webhook": "webhook",
    "push": "message on a device",
    "service": "another service",
}

NOTICE_STATES: Mapping[str, str] = {
    "queued": "waiting to leave",
    "sent": "sent",
    "dead": "could not be sent",
    "withdrawn": "no longer needed",
}

#: Where a container's tension lies.
PLACES: Mapping[str, str] = {
    "in-band": "in the band",
    "dry": "too dry",
    "wet": "too wet",
    "silent": "not heard lately",
    "unread": "no reading yet",
}


def number(count: int, one: str, many: str | None = None) -> str:
    """A count with its noun: 1 pot, 3 pots."""
    return f"{count} {one if count == 1 else many or one + 's'}"


def litres(volume_l: float) -> str:
    """A volume as it is read at a reservoir: 7.5 l below ten, whole litres above."""
    return f"{volume_l:.1f} l" if volume_l < 9.95 else f"{volume_l:.0f} l"


def names(listed: list[str], most: int = 3) -> str:
    """A list in a sentence: A, B and C; A, B, C and 4 more."""
    if len(listed) > most:
        return f"{', '.join(listed[:most])} and {len(listed) - most} more"
    return listed[0] if len(listed) == 1 else f"{', '.join(listed[:-1])} and {listed[-1]}" if listed else ""
