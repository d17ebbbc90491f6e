"""Alarms by kind and cause, the measures of the alarm standards beside their targets, and what work came of them."""

from __future__ import annotations

from collections import Counter, defaultdict

from wickwatch.alarms.measures_targets import lines
from wickwatch.report import words
from wickwatch.report.document import Block, Section, Text, table
from wickwatch.report.facts import Facts


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
        columns = ("Kind", "Of their own", "Explained by, and nobody called")
        blocks.append(table("Alarms raised this week by kind and cause", columns, rows, (1,)))
    else:
        blocks.append(Text("No alarm was raised."))
    met = {True: "met", False: "not met", None: "–"}
    found = lines(facts.measures)
    served = [(each.label, each.shown, each.target or "none published", met[each.met]) for each in found]
    caption = "How the alarms served: measures of IEC 62682 and ANSI/ISA-18.2 beside their targets"
    blocks.append(table(caption, ("Measure", "This week", "Target", "Is it met?"), served, (1,)))
    sources = "; ".join(dict.fromkeys(each.source for each in found if each.target))
    blocks.append(
        Text(
            f"Targets are for one person at a large plant over a month or more. They are from: {sources}.",
            "note",
        )
    )
    return Section("alarms", "Alarms", tuple(blocks))


def _causes(found: Counter[str]) -> str:
    parts = [f"{count:,} by {words.kind(kind)}" for kind, count in found.most_common()]
    return ", ".join(parts) or "none"
