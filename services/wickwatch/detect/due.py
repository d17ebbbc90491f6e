"""Which kinds are looked at in a sweep: the quick ones always, the others when their grid has moved on.

A function of two times and nothing else, so that a backtest looks at the same kinds at the same moments. Not here: how
often a sweep runs.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, datetime, timedelta

from wickwatch.fleet import Kind

#: How often each kind is looked at; zero means in every sweep. `monitoring-stopped` is no detector's.
EVERY: Mapping[Kind, timedelta] = {
    "reservoir-empty": timedelta(0),
    "probe-silent": timedelta(0),
    "gateway-silent": timedelta(0),
    "sudden-wetting": timedelta(minutes=5),
    "reservoir-low": timedelta(minutes=15),
    "drying-drift": timedelta(minutes=15),
    "supply-interrupted": timedelta(minutes=15),
    "reservoir-leak": timedelta(minutes=15),
    "probe-fault": timedelta(minutes=15),
    "uneven-room": timedelta(hours=1),
}

_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)


def due(previous: datetime | None, as_of: datetime) -> frozenset[Kind]:
    """Kinds to look at as of `as_of` when the sweep before was as of `previous` (None: there was none)."""
    return frozenset(kind for kind, every in EVERY.items() if _passed(every, previous, as_of))


def _passed(every: timedelta, previous: datetime | None, as_of: datetime) -> bool:
    """Whether a multiple of `every` lies in (previous, as_of]."""
    if previous is None or not every:
        return True
    return (as_of - _EPOCH) // every > (previous - _EPOCH) // every
