"""The whole report: its title, until when its data reached, and its sections in the order they are read."""

from __future__ import annotations

from wickwatch.report import words
from wickwatch.report.document import Document
from wickwatch.report.facts import Facts
from wickwatch.report.sections import alarm_pages, data, front, rooms, rounds, trend_pages, work_pages


def document(facts: Facts, changed: list[str] | None = None, edition: int = 1) -> Document:
    """A report; `changed` is what differs from the edition before, None for the first."""
    week, zone = facts.week, facts.facility.zone
    reached = "no reading" if facts.reached is None else f"readings until {words.day_and_time(facts.reached, zone)}"
    made = f"Made {words.day_and_time(facts.now, zone)} from {reached}"
    again = f", edition {edition}" if edition > 1 else ""
    unfinished = "" if facts.over else "; the week is not over"
    return Document(
        title=f"{facts.facility.name}, week {week.name}",
        about=(f"{week.span}, {zone.key} time", f"{made}{again}{unfinished}."),
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
    )
