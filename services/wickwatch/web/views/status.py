"""The room status page: which rooms need someone, in what order, and what will run out before tomorrow.

Not here: reading the rows, remembering them between visits (`web.snapshot`), or HTML.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from wickwatch.store.people import Visible
from wickwatch.texts import N_, Words, _, capital, ngettext
from wickwatch.web.views.card import Card
from wickwatch.web.views.times import Moment, moment
from wickwatch.web.views.trouble import Trouble
from wickwatch.web.views.watching import Banner
from wickwatch.web.views.water import Soon

#: Sections of the page in order, each with the words for it.
SECTIONS = Words(
    {
        "needs-someone": N_("Need someone"),
        "has-someone": N_("Somebody has it"),
        "no-readings": N_("No readings yet"),
        "quiet": N_("Quiet"),
        "out-of-service": N_("Out of service"),
    }
)


@dataclass(frozen=True)
class Filters:
    """What a visitor asked for; empty means everything."""

    facility: str = ""
    state: str = ""
    text: str = ""

    @property
    def any(self) -> bool:
        """Whether anything was asked for."""
        return bool(self.facility or self.state or self.text)


@dataclass(frozen=True)
class Section:
    """Rooms with the same need."""

    need: str
    title: str
    cards: tuple[Card, ...]


@dataclass(frozen=True)
class StatusPage:
    """The whole page; `several` tells whether rooms of more than one facility may be on it."""

    headline: str
    sections: tuple[Section, ...]
    soon: tuple[Soon, ...]
    whole: tuple[Trouble, ...]
    banners: tuple[Banner, ...]
    facilities: tuple[Visible, ...]
    filters: Filters
    several: bool
    rooms: int
    shown: int
    now: Moment
    zones: str
    states: Mapping[str, str]


def page(
    cards: Sequence[Card],
    soon: Sequence[Soon],
    whole: Sequence[Trouble],
    banners: Sequence[Banner],
    facilities: Sequence[Visible],
    filters: Filters,
    now: datetime,
) -> StatusPage:
    """The page from its cards; filters choose among rooms, the headline always counts all of them."""
    shown = [one for one in cards if fits(one, filters)]
    sections = []
    for need, title in SECTIONS.items():
        chosen = tuple(sorted((one for one in shown if one.need == need), key=lambda one: one.order))
        if chosen:
            sections.append(Section(need, title, chosen))
    zones = sorted({facility.zone for facility in facilities})
    zone = ZoneInfo(zones[0]) if len(zones) == 1 else ZoneInfo("UTC")
    return StatusPage(
        headline=headline(cards, len(whole)),
        sections=tuple(sections),
        soon=tuple(sorted(soon, key=lambda one: one.out_at)),
        whole=tuple(whole),
        banners=tuple(banners),
        facilities=tuple(facilities),
        filters=filters,
        several=len(facilities) > 1,
        rooms=len(cards),
        shown=len(shown),
        now=moment(now, zone, now),
        zones=zones[0] if len(zones) == 1 else _("UTC; times below are each facility's own"),
        states=SECTIONS,
    )


def fits(one: Card, filters: Filters) -> bool:
    """Whether a room is among those asked for; text is looked for in names and in what is wrong."""
    if filters.facility and one.facility_slug != filters.facility:
        return False
    if filters.state and one.need != filters.state:
        return False
    if not filters.text:
        return True
    parts = [one.name, one.facility, one.out, *(each.name for each in one.water)]
    parts += [text for each in one.troubles for text in (each.heading, each.message)]
    said = " ".join(parts).casefold()
    return all(word in said for word in filters.text.casefold().split())


def headline(cards: Sequence[Card], whole: int) -> str:
    """The page in one sentence."""
    needing = sum(one.need == "needs-someone" for one in cards)
    having = sum(one.need == "has-someone" for one in cards)
    if not cards:
        return _("No rooms yet")
    if not needing and not having and not whole:
        return ngettext("All quiet in %(num)s room", "All quiet in %(num)s rooms", len(cards))
    told = []
    if needing:
        told.append(ngettext("%(num)s room needs someone", "%(num)s rooms need someone", needing))
    if having:
        told.append(
            ngettext("somebody has %(num)s other", "somebody has %(num)s others", having)
            if needing
            else ngettext("somebody has %(num)s room", "somebody has %(num)s rooms", having)
        )
    if not told:
        told.append(
            ngettext(
                "all quiet in %(num)s room; an alarm concerns the whole facility",
                "all quiet in %(num)s rooms; an alarm concerns the whole facility",
                len(cards),
            )
        )
    return capital(", ".join(told))
