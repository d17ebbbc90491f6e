"""What was done this week, and what came of it: which work helped, and which did not."""

from __future__ import annotations

from collections import defaultdict
from uuid import UUID

from wickwatch.alarms.words import lasting
from wickwatch.report import words
from wickwatch.report.document import Block, Section, Text, table
from wickwatch.report.facts import Facts
from wickwatch.store.judged import Judged
from wickwatch.texts import _


def work(facts: Facts) -> Section:
    """By kind of work, and each entry that did not help."""
    if not facts.work:
        return Section("work", _("Work"), (Text(_("No work was recorded.")),))
    by_kind: dict[str, list[Judged]] = defaultdict(list)
    for each in facts.work:
        by_kind[each.entry.kind].append(each)
    rows = [
        (
            words.kind(kind),
            f"{len(found)}",
            f"{sum(each.helped is True for each in found)}",
            f"{sum(each.helped is False for each in found)}",
            f"{sum(each.helped is None for each in found)}",
            _soon(found),
        )
        for kind, found in sorted(by_kind.items(), key=lambda pair: (-len(pair[1]), pair[0]))
    ]
    columns = (_("Work"), _("Entries"), _("Helped"), _("Did not help"), _("No alarm says"), _("Right again after"))
    blocks: list[Block] = [
        table(_("Work of the week by kind, and what the alarms say of it"), columns, rows, (1, 2, 3, 4))
    ]
    vain = [each for each in facts.work if each.helped is False]
    if vain:
        lines = [_line(facts, each) for each in vain]
        headings = (_("Where"), _("Work"), _("When"), _("Against"), _("By"))
        blocks.append(table(_("Work that did not help"), headings, lines))
    return Section("work", _("Work"), tuple(blocks))


def _soon(found: list[Judged]) -> str:
    """The middle of how long it took until things were right again."""
    took = sorted(each.after for each in found if each.after is not None)
    return lasting(took[len(took) // 2]) if took else "–"


def _line(facts: Facts, each: Judged) -> tuple[str, ...]:
    place = facts.place
    groups = (place.rooms, place.reservoirs, place.lines, place.containers)
    name: dict[UUID, str] = {}
    for group in groups:
        name |= {thing.id: thing.name for thing in group}
    where = [name.get(each.entry.subject_id, each.entry.subject_type)]
    if each.entry.room_id is not None and each.entry.room_id != each.entry.subject_id:
        where.append(name.get(each.entry.room_id, ""))
    return (
        ", ".join(part for part in where if part),
        words.kind(each.entry.kind),
        words.day_and_time(each.entry.at, facts.week.zone),
        words.kind(each.alarm_kind or "–"),
        each.entry.person or "–",
    )
