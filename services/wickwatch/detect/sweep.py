"""One sweep: every kind that is due, looked for in one frame of one facility.

Pure and deterministic: the same frame, place and work give the same judgement, live or in a backtest. Not here: how a
kind is judged; each has a file of its name.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
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
    supply_untold,
    uneven_room,
)
from wickwatch.detect.clock import moment
from wickwatch.detect.early import early
from wickwatch.detect.finding import Finding, Judgement, Key
from wickwatch.detect.frame import Frame
from wickwatch.detect.held import held
from wickwatch.detect.layout import Layout
from wickwatch.detect.sight import Sight
from wickwatch.detect.window import numbers
from wickwatch.fleet import KINDS, Container, Facility, Kind, Line, Reservoir, Work

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

_Things = Callable[[Layout], Sequence[Container | Reservoir | Line]]

#: Kinds of which readings that there are do not always suffice: the numbers of their subjects then, and of what.
_UNTOLD: Mapping[Kind, tuple[Callable[[Sight], Iterable[int]], _Things]] = {
    "drying-drift": (drying_drift.untold, lambda place: place.containers),
    "sudden-wetting": (sudden_wetting.untold, lambda place: place.containers),
    "reservoir-empty": (reservoir_empty.untold, lambda place: place.reservoirs),
    "supply-interrupted": (supply_untold.untold, lambda place: place.lines),
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
    unknown, settling = _unknown(sight, judged), held(sight, judged)
    return Judgement(moment(frame.as_of), judged, tuple(found), unknown, settling, early(sight, found))


def _unknown(sight: Sight, judged: frozenset[Kind]) -> frozenset[Key]:
    """Conditions that the readings do not suffice to judge: their channel is silent, or new and never heard, or it is
    neither there any more nor over (a wet container that has not recovered).

    Where no channel is attached there is nothing to judge, and what was found before ends.
    """
    place = sight.place
    blind = _ids(place.containers, sight.tension.attached & ~sight.tension.known)
    dry_eyed = _ids(place.reservoirs, sight.level.attached & ~sight.level.known)
    unknown = {(kind, each) for kind in judged & _BY_TENSION for each in blind}
    unknown |= {(kind, each) for kind in judged & _BY_LEVEL for each in dry_eyed}
    for kind in judged & _UNTOLD.keys():
        untold, things = _UNTOLD[kind]
        unknown |= {(kind, things(place)[number].id) for number in untold(sight)}
    if "probe-silent" in judged:
        never = _ids(place.containers, sight.tension.attached & np.isnat(sight.tension.quiet_from))
        never += _ids(place.reservoirs, sight.level.attached & np.isnat(sight.level.quiet_from))
        unknown |= {("probe-silent", each) for each in never}
    return frozenset(unknown)


def _ids(things: Sequence[Container] | Sequence[Reservoir], where: NDArray[np.bool_]) -> list[UUID]:
    return [things[number].id for number in numbers(where)]
