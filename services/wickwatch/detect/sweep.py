"""One sweep: every kind that is due, looked for in one frame of one facility.

Pure and deterministic: the same frame, place and work give the same judgement, live or in a backtest. Not here: how a
kind is judged; each has a file of its name.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from uuid import UUID

import numpy as np
from numpy.typing import NDArray

from wickwatch.detect import (
    drying_drift,
    gateway_silent,
    probe_fault,
    probe_silent,
    reservoir_empty,
    reservoir_leak,
    reservoir_low,
    sudden_wetting,
    supply_interrupted,
    uneven_room,
)
from wickwatch.detect.clock import moment
from wickwatch.detect.early import early
from wickwatch.detect.finding import Finding, Judgement, Key
from wickwatch.detect.frame import Frame
from wickwatch.detect.held import held
from wickwatch.detect.sight import Sight
from wickwatch.detect.supply_untold import untold
from wickwatch.fleet import KINDS, Container, Facility, Kind, Reservoir, Work

_FIND: Mapping[Kind, Callable[[Sight], list[Finding]]] = {
    "reservoir-empty": reservoir_empty.find,
    "reservoir-low": reservoir_low.find,
    "probe-silent": probe_silent.find,
    "gateway-silent": gateway_silent.find,
    "drying-drift": drying_drift.find,
    "sudden-wetting": sudden_wetting.find,
    "supply-interrupted": supply_interrupted.find,
    "uneven-room": uneven_room.find,
    "probe-fault": probe_fault.find,
    "reservoir-leak": reservoir_leak.find,
}

#: Kinds whose conditions last until their subject is clear of them, and of which subjects that can't be said now.
_LASTS: Mapping[Kind, Callable[[Sight], list[UUID]]] = {
    "drying-drift": lambda sight: _numbered(sight.place.containers, drying_drift.lifted(sight)),
    "sudden-wetting": lambda sight: _numbered(sight.place.containers, sudden_wetting.wet_still(sight)),
    "reservoir-empty": lambda sight: _numbered(sight.place.reservoirs, reservoir_empty.not_clear(sight)),
    "reservoir-leak": lambda sight: _numbered(sight.place.reservoirs, reservoir_leak.runs_on(sight)),
    "reservoir-low": lambda sight: _numbered(sight.place.reservoirs, reservoir_low.not_clear(sight)),
}

#: Kinds that need a container's tension, and kinds that need a reservoir's level.
_BY_TENSION: frozenset[Kind] = frozenset({"drying-drift", "sudden-wetting", "probe-fault"})
_BY_LEVEL: frozenset[Kind] = frozenset({"reservoir-empty", "reservoir-low", "reservoir-leak", "probe-fault"})


def sweep(frame: Frame, place: Facility, work: Sequence[Work], kinds: frozenset[Kind]) -> Judgement:
    """Judge the asked kinds as of the frame; kinds that no detector looks for (`monitoring-stopped`) are not judged.

    Findings are ordered by kind and subject id, whatever the order of rooms and containers.
    """
    sight = Sight(frame, place, work)
    judged = frozenset(kind for kind in kinds if kind in _FIND)
    found = [finding for kind in KINDS if kind in judged for finding in _FIND[kind](sight)]
    found.sort(key=lambda finding: (KINDS.index(finding.kind), str(finding.subject.id)))
    unknown, settling, lasting = _unknown(sight, judged), held(sight, judged), _lasting(sight, judged)
    return Judgement(moment(frame.as_of), judged, tuple(found), unknown, settling, early(sight, found), lasting)


def _unknown(sight: Sight, judged: frozenset[Kind]) -> frozenset[Key]:
    """Conditions that the readings do not suffice to judge: their channel is silent, or new and never heard, or what
    they tell of a line was washed away by cans.

    Where no channel is attached there is nothing to judge, and what was found before ends.
    """
    place = sight.place
    blind = _ids(place.containers, sight.tension.attached & ~sight.tension.known)
    dry_eyed = _ids(place.reservoirs, sight.level.attached & ~sight.level.known)
    unknown = {(kind, each) for kind in judged & _BY_TENSION for each in blind}
    unknown |= {(kind, each) for kind in judged & _BY_LEVEL for each in dry_eyed}
    if "supply-interrupted" in judged:
        unknown |= {("supply-interrupted", place.lines[line].id) for line in untold(sight)}
    if "probe-silent" in judged:
        never = _ids(place.containers, sight.tension.attached & np.isnat(sight.tension.quiet_from))
        never += _ids(place.reservoirs, sight.level.attached & np.isnat(sight.level.quiet_from))
        unknown |= {("probe-silent", each) for each in never}
    return frozenset(unknown)


def _lasting(sight: Sight, judged: frozenset[Kind]) -> frozenset[Key]:
    """Conditions that are over only once their subject is clear of them, whether they are found now or not."""
    return frozenset((kind, each) for kind in judged & _LASTS.keys() for each in _LASTS[kind](sight))


def _ids(things: Sequence[Container] | Sequence[Reservoir], where: NDArray[np.bool_]) -> list[UUID]:
    return _numbered(things, np.flatnonzero(where))


def _numbered(things: Sequence[Container] | Sequence[Reservoir], which: NDArray[np.int64]) -> list[UUID]:
    return [things[int(number)].id for number in which]
