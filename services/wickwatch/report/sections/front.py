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
from wickwatch.texts import _, ngettext


def front(facts: Facts, changed: list[str] | None) -> Section:
    """The page; `changed` is what differs from an earlier edition, None where this is the first."""
    return Section("front", _("The week at a glance"), (*_warnings(facts, changed), _tiles(facts), *_doing(facts)))


def _warnings(facts: Facts, changed: list[str] | None) -> list[Block]:
    found: list[Block] = []
    if facts.reached is None:
        return [Text(_("No reading of this week is there. Nothing below says that all was well."), "warning")]
    share = facts.completeness.facility
    if share < WHOLE:
        said = _(
            "%(percent)s of what should have been measured was. A gap is not calm: see Data.",
            percent=words.percent(share, 0),
        )
        found.append(Text(said, "warning"))
    if changed is not None:
        differs = "; ".join(changed) or _("none of the key figures")
        found.append(Text(_("Made again. What changed since the edition before: %(changes)s.", changes=differs)))
    apart = change.apart(facts)
    if apart:
        alone = _(
            "Lights were set otherwise the week before in %(rooms)s: not in the changes below.",
            rooms=words.listed(apart),
        )
        found.append(Text(alone, "note"))
    return found


def _tiles(facts: Facts) -> Tiles:
    litres = facts.water.used.litres
    water = _than(100.0 * change.water(facts), 0, "%")
    if not np.isfinite(litres).all():
        water += "; " + ngettext(
            "%(known)d of %(num)d reservoir", "%(known)d of %(num)d reservoirs", len(litres),
            known=int(np.isfinite(litres).sum()),
        )  # fmt: skip
    return Tiles(
        (
            Tile(
                _("Time in band"),
                words.percent(facts.tension.band.share()),
                _than(100.0 * change.in_band(facts), 1, _("points")),
            ),
            Tile(_("Water used"), words.number(total(litres), 0, "l"), water),
            *_alarms(facts.measures, facts.measures_before),
        )
    )


def _than(change_of: float, digits: int, unit: str) -> str:
    if not np.isfinite(change_of):
        return _("no week to compare")
    return _("%(change)s on the week before", change=words.signed(change_of, digits, unit))


def _alarms(now: Measures, before: Measures) -> tuple[Tile, ...]:
    took = now.to_acknowledge
    high = now.priorities.get("high", 0.0) * now.load.count
    if took.median is None or took.longest is None:
        answered = _("no alarm was answered")
    else:
        answered = _("half within this, the longest %(span)s", span=lasting(took.longest))
    unanswered = now.unanswered
    if unanswered:
        answered += "; " + ngettext("%(num)d had no answer", "%(num)d had no answer", unanswered)
    return (
        Tile(
            _("Alarms that called somebody"),
            f"{now.load.count}",
            _(
                "%(before)d the week before; %(high)s of high priority",
                before=before.load.count,
                high=words.number(high),
            ),
        ),
        Tile(_('Time to "mine"'), words.unknown() if took.median is None else lasting(took.median), answered),
    )


def _doing(facts: Facts) -> list[Block]:
    found = todo.steps(facts)
    if not found:
        return [Text(_("Nothing needs doing this week that the readings tell of."))]
    return [Text(_("To do this week, in order:")), Steps(found)]
