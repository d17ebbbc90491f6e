"""The whole report: its title, until when its data reached, and its sections in the order they are read."""

from __future__ import annotations

from wickwatch.report import words
from wickwatch.report.document import Document
from wickwatch.report.facts import Facts
from wickwatch.report.sections import alarm_pages, data, front, rooms, rounds, trend_pages, work_pages
from wickwatch.texts import _, speaking


def document(facts: Facts, changed: list[str] | None = None, edition: int = 1) -> Document:
    """A report in the language and units of its facility.

    `changed` is what differs from the edition before, None for the first.
    """
    with speaking(facts.reader):
        return _document(facts, changed, edition)


def _document(facts: Facts, changed: list[str] | None, edition: int) -> Document:
    week, zone = facts.week, facts.facility.zone
    about = _("%(days)s, %(zone)s time", days=week.span, zone=zone.key)
    return Document(
        title=title_of(facts),
        about=(about, _made(facts, edition)),
        sections=(
            front.front(facts, changed),
            rounds.refill_round(facts),
            rounds.sensors(facts),
            alarm_pages.alarms(facts),
            work_pages.work(facts),
            trend_pages.trends(facts),
            data.data(facts),
            *rooms.rooms(facts),
        ),
        language=facts.reader.language,
    )


def title_of(facts: Facts) -> str:
    """What a report is called, for whoever is spoken to."""
    return _("%(facility)s, week %(week)s", facility=facts.facility.name, week=facts.week.name)


def _made(facts: Facts, edition: int) -> str:
    """When and from what it was made."""
    made = words.day_and_time(facts.now, facts.facility.zone)
    if facts.reached is None:
        parts = [_("Made %(time)s from no reading", time=made)]
    else:
        until = words.day_and_time(facts.reached, facts.facility.zone)
        parts = [_("Made %(time)s from readings until %(until)s", time=made, until=until)]
    if edition > 1:
        parts.append(_("edition %(number)d", number=edition))
    told = ", ".join(parts)
    return f"{told}." if facts.over else _("%(made)s; the week is not over.", made=told)
