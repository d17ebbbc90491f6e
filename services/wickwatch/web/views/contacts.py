"""How a person is reached, on their own page: each way in order, and how its last test went.

Not here: adding or testing one (`web.pages.contacts`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from uuid import UUID
from zoneinfo import ZoneInfo

from wickwatch.store.contacts import Ended, Reach, shown
from wickwatch.texts import _, capital
from wickwatch.web.views import words
from wickwatch.web.views.times import Moment, moment


@dataclass(frozen=True)
class ContactLine:
    """One way; `way` is empty where its name says it, `test` where there was no test."""

    id: UUID
    way: str
    name: str
    where: str
    first: bool
    test: str
    test_failed: bool
    test_at: Moment | None


@dataclass(frozen=True)
class EndedLine:
    """A way that its service ended."""

    name: str
    at: Moment


@dataclass(frozen=True)
class Contacts:
    """All ways in the order they are tried, and those that ended lately."""

    lines: tuple[ContactLine, ...]
    ended: tuple[EndedLine, ...]
    push_key: str
    may_add_urls: bool


def contacts(
    reaches: Sequence[Reach],
    ended: Sequence[Ended],
    push_key: str,
    may_add_urls: bool,
    zone: ZoneInfo,
    now: datetime,
) -> Contacts:
    """A person's contacts as they see them; `push_key` is what a browser subscribes to."""
    lines = tuple(_line(reach, number == 0, zone, now) for number, reach in enumerate(reaches))
    gone = tuple(EndedLine(each.label or words.WAYS[each.way], moment(each.at, zone, now)) for each in ended)
    return Contacts(lines, gone, push_key, may_add_urls)


def _line(reach: Reach, first: bool, zone: ZoneInfo, now: datetime) -> ContactLine:
    return ContactLine(
        id=reach.id,
        way=words.WAYS[reach.way] if reach.label else "",
        name=reach.label or capital(words.WAYS[reach.way]),
        where=shown(reach.way, reach.address),
        first=first,
        test=_test(reach),
        test_failed=reach.test_state == "dead" or (reach.test_state == "queued" and reach.test_detail is not None),
        test_at=moment(reach.test_at, zone, now) if reach.test_at else None,
    )


def _test(reach: Reach) -> str:
    if reach.test_state is None:
        return ""
    if reach.test_state == "sent":
        return _("arrived at its service")
    if reach.test_state == "dead":
        return _("could not be sent: %(why)s", why=reach.test_detail or _("nobody took it in time"))
    return _("not taken yet: %(why)s", why=reach.test_detail) if reach.test_detail else _("is on its way")
