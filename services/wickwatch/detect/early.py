"""Findings that may be the first sign of something larger, so that their call can wait for it a while.

A container that dries while another one of its line stands above its usual peak, too, may be the first of a line that
is cut off; one of a room in which emitters have moved, the first of an uneven room. Nobody need be told of the
container while its dry limit is hours away, also by the pessimistic end of its forecast: that is asked again in every
sweep, so that the call comes before the limit whatever becomes of the line. A probe that is silent while nothing else
comes through its gateway either, though a reading is due, may be the first of all behind it: it lost a reading just
before. Not here: how long a call waits at most (`alarms.policy`).
"""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from wickwatch.detect import constants as c
from wickwatch.detect.finding import Finding, Key
from wickwatch.detect.gateway_silent import overdue
from wickwatch.detect.layout import NONE
from wickwatch.detect.sight import Sight
from wickwatch.detect.supply_interrupted import several_ask
from wickwatch.detect.uneven_room import moved


def early(sight: Sight, found: Iterable[Finding]) -> frozenset[Key]:
    """Those of the findings whose line, room or gateway shows signs beyond their own, and whose harm is far off."""
    listed = list(found)
    return _drying(sight, listed) | _silent(sight, listed)


def _silent(sight: Sight, found: Iterable[Finding]) -> frozenset[Key]:
    silent = [finding for finding in found if finding.kind == "probe-silent"]
    late = {("gateway-silent", each) for each in overdue(sight)} if silent else set()
    return frozenset(finding.key for finding in silent if late.intersection(finding.explained_by))


def _drying(sight: Sight, found: Iterable[Finding]) -> frozenset[Key]:
    place = sight.place
    far = [finding for finding in found if finding.kind == "drying-drift" and _is_far(finding)]
    if not far:
        return frozenset()
    number = [place.number_of[finding.subject.id] for finding in far]
    lines = {int(place.line_of[n]) for n in number} - {NONE}
    rooms = {int(place.room_of[n]) for n in number}
    cut = several_ask(sight, lines)
    uneven = {room for room in rooms if moved(sight, np.flatnonzero(place.room_of == room)) >= c.EARLY_MOVED}
    return frozenset(
        finding.key
        for finding, n in zip(far, number, strict=True)
        if int(place.line_of[n]) in cut or int(place.room_of[n]) in uneven
    )


def _is_far(finding: Finding) -> bool:
    least = finding.evidence.get("hours_to_dry_limit_low")
    return isinstance(least, float) and least >= c.EARLY_LEFT_H
