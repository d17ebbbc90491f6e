"""The words of a summary: many alarms in one message, their number and the worst first.

Not here: when calls are gathered (`flood`), nor one alarm's own message (`calls`).
"""

from __future__ import annotations

from collections.abc import Sequence

from wickwatch.alarms.addresses import link, page
from wickwatch.alarms.as_json import as_json
from wickwatch.alarms.model import Alarm
from wickwatch.alarms.words import place_name
from wickwatch.fleet import Facility

#: A message names this many one by one; the page has them all.
_NAMED = 30

#: So many of the most urgent have their own link, by which they are answered without a sign-in.
_LINKED = 10


def title(alarms: Sequence[Alarm], place: Facility) -> str:
    """The number and the worst; alarms with the most urgent first."""
    worst = alarms[0]
    what, where = worst.kind.replace("-", " "), place_name(place, worst.room_id)
    return f"{worst.priority.capitalize()}: {len(alarms)} alarms, the worst: {what}, {worst.subject.name}, {where}"


def body(alarms: Sequence[Alarm], place: Facility, base_url: str) -> str:
    """One line for each alarm, the link of the most urgent ones below theirs, and where all of them are."""
    lines = []
    for number, alarm in enumerate(alarms[:_NAMED]):
        lines.append(f"- {alarm.priority.capitalize()}: {alarm.message}")
        if number < _LINKED:
            lines.append(f"  {link(base_url, alarm.id)}")
    if len(alarms) > _NAMED:
        lines.append(f"- and {len(alarms) - _NAMED} more")
    paragraphs = [
        f"{len(alarms)} alarms at {place.name}, told together. The worst:\n{alarms[0].message}",
        "All of them, the most urgent first:\n" + "\n".join(lines),
        f"Say which are yours:\n{page(base_url)}",
    ]
    return "\n\n".join(paragraphs) + "\n"


def payload(alarms: Sequence[Alarm], place: Facility, base_url: str) -> dict[str, object]:
    """For programs: the number, the worst, and every alarm as the contract shows it."""
    shown = [as_json(alarm, place) for alarm in alarms]
    return {
        "summary": True,
        "facility": place.slug,
        "priority": alarms[0].priority,
        "count": len(alarms),
        "worst": shown[0],
        "alarms": shown,
        "link": page(base_url),
    }
