"""A facility's own texts beside the steps that hold everywhere. Not here: storing them (`store.advice`)."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from wickwatch.alarms import Advice, advise
from wickwatch.fleet import ADVICE_LONGEST, KINDS
from wickwatch.store.people import Visible
from wickwatch.web.permits import allowed
from wickwatch.web.views import words
from wickwatch.web.views.watching import Banner


@dataclass(frozen=True)
class KindAdvice:
    """One kind of alarm."""

    kind: str
    heading: str
    advice: Advice


@dataclass(frozen=True)
class AdvicePage:
    """All kinds of one facility."""

    facility: str
    slug: str
    kinds: tuple[KindAdvice, ...]
    may_edit: bool
    longest: int
    banners: tuple[Banner, ...]


def advice_page(facility: Visible, own: Mapping[str, str], banners: Sequence[Banner]) -> AdvicePage:
    """The page; managers may edit it."""
    return AdvicePage(
        facility=facility.name,
        slug=facility.slug,
        kinds=tuple(KindAdvice(kind, words.KINDS[kind], advise(kind, own)) for kind in KINDS),
        may_edit=allowed(facility, "write advice"),
        longest=ADVICE_LONGEST,
        banners=tuple(banners),
    )
