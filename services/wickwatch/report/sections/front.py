"""The first page: how the facility fared, and what to do this week. Answers in half a minute."""

from __future__ import annotations

import numpy as np

from wickwatch.alarms.measures import Measures
from wickwatch.alarms.words import lasting
from wickwatch.report import change, todo, words
from wickwatch.report.completeness import WHOLE
from wickwatch.report.document import Block, Section, Steps, Text, Tile, Tiles
from wickwatch.report.facts import Facts
from wickwatch.report.used import total


def front(facts: Facts, changed: list[str] | None) -> Section:
    """The page; `changed` is what differs from an earlier edition, None where this is the first."""
    return Section("front", "The week at a glance", (*_warnings(facts, changed), _tiles(facts), *_doing(facts)))


def _warnings(facts: Facts, changed: list[str] | None) -> list[Block]:
    found: list[Block] = []
    if facts.reached is None:
        return [Text("No reading of this week is there. Nothing below says that all was well.", "warning")]
    share = facts.completeness.facility
    if share < WHOLE:
        said = f"{words.percent(share, 0)} of what should have been measured was. A gap is not calm: see Data."
        found.append(Text(said, "warning"))
    if changed is not None:
        said = "; ".join(changed) or "none of the key figures"
        found.append(Text(f"Made again. What changed since the edition before: {said}."))
    apart = change.apart(facts)
    if apart:
        alone = f"Lights were set otherwise the week before in {words.listed(apart)}: not in the changes below."
        found.append(Text(alone, "note"))
    return found


def _tiles(facts: Facts) -> Tiles:
    litres = facts.water.used.litres
    few = "" if np.isfinite(litres).all() else f"; {int(np.isfinite(litres).sum())} of {len(litres)} reservoirs"
    return Tiles(
        (
            Tile(
                "Time in band",
                words.percent(facts.tension.band.share()),
                _than(words.signed(100.0 * change.in_band(facts), 1, "points")),
            ),
            Tile(
                "Water used",
                words.number(total(litres), 0, "l"),
                _than(words.signed(100.0 * change.water(facts), 0, "%")) + few,
            ),
            *_alarms(facts.measures, facts.measures_before),
        )
    )


def _than(change_of: str) -> str:
    return "no week to compare" if change_of == words.UNKNOWN else f"{change_of} on the week before"


def _alarms(now: Measures, before: Measures) -> tuple[Tile, ...]:
    took, then = now.to_acknowledge, f"{before.load.count} the week before; "
    high = now.priorities.get("high", 0.0) * now.load.count
    unanswered = f"; {now.unanswered} had no answer" if now.unanswered else ""
    return (
        Tile("Alarms that called somebody", f"{now.load.count}", f"{then}{high:.0f} of high priority"),
        Tile(
            'Time to "mine"',
            words.UNKNOWN if took.median is None else lasting(took.median),
            "no alarm was answered" + unanswered
            if took.median is None or took.longest is None
            else f"half within this, the longest {lasting(took.longest)}{unanswered}",
        ),
    )


def _doing(facts: Facts) -> list[Block]:
    found = todo.steps(facts)
    if not found:
        return [Text("Nothing needs doing this week that the readings tell of.")]
    return [Text("To do this week, in order:"), Steps(found)]
