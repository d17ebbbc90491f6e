"""The rooms for a screen on the wall: what can be read across a room and needs nobody to scroll.

Not here: the page that is worked with (`status`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from zoneinfo import ZoneInfo

from wickwatch.store.people import Visible
from wickwatch.texts import ngettext
from wickwatch.web.views.card import Card
from wickwatch.web.views.status import headline
from wickwatch.web.views.times import Moment, moment
from wickwatch.web.views.trouble import Trouble
from wickwatch.web.views.watching import Banner
from wickwatch.web.views.water import Soon

#: What a screen of 1920 by 1080 holds without scrolling: rooms that ask and run-outs beside them, and beneath rows of
#: other rooms, of which one that asks takes the place of one and a half.
_MOST_ASKING = 5
_MOST_SOON = 6
_ROWS = 8
_IN_A_ROW = 6


@dataclass(frozen=True)
class WallPage:
    """The whole screen; the headline counts those who ask, `count_others` the others, shown or not."""

    headline: str
    asking: tuple[Card, ...]
    soon: tuple[Soon, ...]
    more_soon: int
    others: tuple[Card, ...]
    count_others: int
    whole: tuple[Trouble, ...]
    banners: tuple[Banner, ...]
    where: str
    several: bool
    now: Moment


def page(
    cards: Sequence[Card],
    soon: Sequence[Soon],
    whole: Sequence[Trouble],
    banners: Sequence[Banner],
    facilities: Sequence[Visible],
    now: datetime,
) -> WallPage:
    """The screen from the cards of the status page; with nobody needed there is room for more of the others."""
    ordered = sorted(cards, key=lambda one: one.order)
    asking = [one for one in ordered if one.need == "needs-someone"]
    rank = {"has-someone": 0, "no-readings": 1, "quiet": 2, "out-of-service": 3}
    others = sorted((one for one in ordered if one.need in rank), key=lambda one: rank[one.need])
    running_out = sorted(soon, key=lambda one: one.out_at)
    above = max(min(len(asking), _MOST_ASKING), (min(len(running_out), _MOST_SOON) + 1) // 2)
    most = _IN_A_ROW * max(_ROWS - (3 * above + 1) // 2, 1)
    zones = sorted({facility.zone for facility in facilities})
    zone = ZoneInfo(zones[0]) if len(zones) == 1 else ZoneInfo("UTC")
    return WallPage(
        headline=headline(cards, len(whole)),
        asking=tuple(asking[:_MOST_ASKING]),
        soon=tuple(running_out[:_MOST_SOON]),
        more_soon=max(len(running_out) - _MOST_SOON, 0),
        others=tuple(others[:most]),
        count_others=len(others),
        whole=tuple(whole[:2]),
        banners=tuple(banners),
        where=facilities[0].name
        if len(facilities) == 1
        else ngettext("%(num)s facility, times in UTC", "%(num)s facilities, times in UTC", len(facilities)),
        several=len(facilities) > 1,
        now=moment(now, zone, now),
    )
