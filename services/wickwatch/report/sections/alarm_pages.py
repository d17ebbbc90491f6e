"""Alarms by kind and cause, the measures of the alarm standards beside their targets, and what work came of them."""

from __future__ import annotations

from collections import Counter, defaultdict

from wickwatch.alarms.measures_targets import lines
from wickwatch.report import words
from wickwatch.report.document import Block, Section, Text, table
from wickwatch.report.facts import Facts
from wickwatch.texts import _


def alarms(facts: Facts) -> Section:
    """What was raised, and how it served."""
    blocks: list[Block] = []
    if facts.alarms:
        own = Counter(each.kind for each in facts.alarms if each.cause_kind is None)
        explained: dict[str, Counter[str]] = defaultdict(Counter)
        for each in facts.alarms:
            if each.cause_kind is not None:
                explained[each.kind][each.cause_kind] += 1
        rows = [
            (words.kind(kind), f"{own[kind]}", _causes(explained[kind]))
            for kind in sorted({*own, *explained}, key=lambda kind: (-own[kind], kind))
        ]
        columns = (_("Kind"), _("Of their own"), _("Explained by, and nobody called"))
        blocks.append(table(_("Alarms raised this week by kind and cause"), columns, rows, (1,)))
    else:
        blocks.append(Text(_("No alarm was raised.")))
    met = {True: _("met"), False: _("not met"), None: "–"}
    found = lines(facts.measures)
    served = [(each.label, each.shown, each.target or _("none published"), met[each.met]) for each in found]
    caption = _("How the alarms served: measures of IEC 62682 and ANSI/ISA-18.2 beside their targets")
    headings = (_("Measure"), _("This week"), _("Target"), _("Is it met?"))
    blocks.append(table(caption, headings, served, (1,)))
    sources = "; ".join(dict.fromkeys(each.source for each in found if each.target))
    said = _(
        "Targets are for one person at a large plant over a month or more. They are from: %(sources)s.", sources=sources
    )
    blocks.append(Text(said, "note"))
    return Section("alarms", _("Alarms"), tuple(blocks))


def _causes(found: Counter[str]) -> str:
    parts = [_("%(number)d by %(cause)s", number=count, cause=words.kind(kind)) for kind, count in found.most_common()]
    return ", ".join(parts) or _("none")
