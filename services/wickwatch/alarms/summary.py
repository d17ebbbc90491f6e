"""The words of a summary: many alarms in one message, their number and the worst first.

Not here: when calls are gathered (`flood`), nor one alarm's own sentence (`message`).
"""

from __future__ import annotations

from collections.abc import Sequence

from wickwatch.alarms.addresses import link, page
from wickwatch.alarms.as_json import as_json
from wickwatch.alarms.message import said
from wickwatch.alarms.model import Alarm
from wickwatch.alarms.names import KINDS, priority
from wickwatch.alarms.words import place_name
from wickwatch.fleet import Facility
from wickwatch.texts import _, ngettext

#: A message names this many one by one; the page has them all.
_NAMED = 30

#: So many of the most urgent have their own link, by which they are answered without a sign-in.
_LINKED = 10


def title(alarms: Sequence[Alarm], place: Facility) -> str:
    """The number and the worst; alarms with the most urgent first."""
    worst = alarms[0]
    return ngettext(
        "%(priority)s: %(num)d alarm, the worst: %(kind)s, %(thing)s, %(room)s",
        "%(priority)s: %(num)d alarms, the worst: %(kind)s, %(thing)s, %(room)s",
        len(alarms),
        priority=priority(worst.priority),
        kind=KINDS[worst.kind],
        thing=worst.subject.name,
        room=place_name(place, worst.room_id),
    )


def body(alarms: Sequence[Alarm], place: Facility, base_url: str) -> str:
    """One line for each alarm, the link of the most urgent ones below theirs, and where all of them are."""
    lines = []
    for number, alarm in enumerate(alarms[:_NAMED]):
        lines.append(f"- {priority(alarm.priority)}: {said(alarm)}")
        if number < _LINKED:
            lines.append(f"  {link(base_url, alarm.id)}")
    if len(alarms) > _NAMED:
        lines.append("- " + _("and %(number)d more", number=len(alarms) - _NAMED))
    first = ngettext(
        "%(num)d alarm at %(facility)s, told together. The worst:",
        "%(num)d alarms at %(facility)s, told together. The worst:",
        len(alarms),
        facility=place.name,
    )
    paragraphs = [
        f"{first}\n{said(alarms[0])}",
        "\n".join([_("All of them, the most urgent first:"), *lines]),
        _("Say which are yours:") + f"\n{page(base_url)}",
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
