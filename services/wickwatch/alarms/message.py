"""The one sentence of an alarm: what is wrong, where, how bad, how fast, in facility time.

For a tired person: the thing first, the number next, no word that needs a manual. A number that a finding does not
give is left out rather than guessed. Not here: what to do (`advice`), nor how it ended (`ending`).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import datetime

from wickwatch.alarms.model import Condition
from wickwatch.alarms.words import clock, count, lasting, listed, number, place_name
from wickwatch.fleet import Facility, Kind

#: A name may be long; the sentence must fit a phone's screen.
_LONGEST = 400


def sentence(condition: Condition, place: Facility, at: datetime, remark: str = "") -> str:
    """The alarm's message as of `at` (aware UTC), with a remark after it that is never cut."""
    text = _SENTENCES[condition.kind](condition, place, at)
    shown, room = " ".join(text.split()), _LONGEST - len(remark) - bool(remark)
    shown = shown if len(shown) <= room else shown[: room - 1] + "…"
    return f"{shown} {remark}" if remark else shown


def _where(condition: Condition, place: Facility) -> str:
    return f"{condition.subject.name} in {place_name(place, condition.room_id)}"


def _since(condition: Condition, place: Facility, at: datetime) -> str:
    return f"since {clock(condition.since, at, place.zone)}"


def _drying_drift(condition: Condition, place: Facility, at: datetime) -> str:
    evidence = condition.evidence
    limit = number(evidence.get("dry_limit_mbar"), "mbar")
    of = f" of {limit}" if limit else ""
    reaches: str | None = f"past its dry limit{of}"
    if condition.harm_at is not None and condition.harm_at > at:
        reaches = f"at its dry limit{of} about {clock(condition.harm_at, at, place.zone)} at this rate"
    elif not _above(condition):
        reaches = f"dry limit {limit}" if limit else None
    slope = number(evidence.get("slope_mbar_per_day"), "mbar more each day", 1)
    fast = number(evidence.get("above_usual_mbar"), "mbar drier than its usual day")
    numbers = listed(number(evidence.get("tension_mbar"), "mbar"), slope or fast, reaches)
    return f"{_where(condition, place)} is drying out: {numbers or _since(condition, place, at)}."


def _above(condition: Condition) -> bool:
    tension, limit = condition.evidence.get("tension_mbar"), condition.evidence.get("dry_limit_mbar")
    return isinstance(tension, int | float) and isinstance(limit, int | float) and tension >= limit


def _sudden_wetting(condition: Condition, place: Facility, at: datetime) -> str:
    evidence = condition.evidence
    limit = number(evidence.get("wet_limit_mbar"), "mbar")
    numbers = listed(
        number(evidence.get("tension_mbar"), "mbar"),
        f"wet limit {limit}" if limit else None,
        _since(condition, place, at),
        number(evidence.get("excess_l_per_h"), "l/h more than usual drawn", 1),
        _runs_over(condition, place, at),
    )
    return f"{_where(condition, place)} is getting water it does not need, its emitter may be stuck open: {numbers}."


def _runs_over(condition: Condition, place: Facility, at: datetime) -> str | None:
    if condition.harm_at is None or condition.harm_at <= at:
        return None
    return f"runs over about {clock(condition.harm_at, at, place.zone)} at this rate"


def _reservoir_low(condition: Condition, place: Facility, at: datetime) -> str:
    evidence = condition.evidence
    left = number(evidence.get("usable_l"), "l left") or number(evidence.get("level_mm"), "mm of water")
    numbers = listed(left, number(evidence.get("draw_l_per_h"), "l/h drawn", 1))
    if condition.harm_at is None or condition.harm_at <= at:
        return f"{_where(condition, place)} is low{f': {numbers}' if numbers else ''}."
    until = f"empty about {clock(condition.harm_at, at, place.zone)}, in {lasting(condition.harm_at - at)}"
    return f"{_where(condition, place)} will be {until}{f': {numbers}' if numbers else ''}."


def _reservoir_empty(condition: Condition, place: Facility, at: datetime) -> str:
    evidence = condition.evidence
    needed = number(evidence.get("empty_level_mm"), "mm needed")
    numbers = listed(number(evidence.get("level_mm"), "mm of water"), needed, _since(condition, place, at))
    dry = count(evidence.get("containers"), "container has", "containers have")
    return f"{_where(condition, place)} is empty: {numbers}{f'; {dry} no water' if dry else ''}."


def _reservoir_leak(condition: Condition, place: Facility, at: datetime) -> str:
    rate = number(condition.evidence.get("leak_l_per_h"), "l/h", 1) or "water"
    return f"{_where(condition, place)} loses {rate} while nothing should be drinking, {_since(condition, place, at)}."


def _supply_interrupted(condition: Condition, place: Facility, at: datetime) -> str:
    dry = count(condition.evidence.get("containers"), "container dries", "containers dry")
    why = f"{dry} together" if dry else "its containers dry together"
    since = _since(condition, place, at)
    return f"{_where(condition, place)} gets no water: {why} while its reservoir is not empty, {since}."


def _uneven_room(condition: Condition, place: Facility, at: datetime) -> str:
    spread = number(condition.evidence.get("spread_mbar"), "mbar between like containers")
    usual = number(condition.evidence.get("usual_mbar"), "mbar is usual")
    numbers = listed(spread, usual, _since(condition, place, at))
    return f"{condition.subject.name} has become uneven, some emitters want re-setting: {numbers}."


def _instrument(condition: Condition) -> str:
    if condition.subject.type == "reservoir":
        return "level sensor"
    return "second probe" if condition.evidence.get("twin") else "probe"


def _probe_silent(condition: Condition, place: Facility, at: datetime) -> str:
    last = number(condition.evidence.get("last_value"), "mm" if condition.subject.type == "reservoir" else "mbar")
    told = f"; its last reading was {last}" if last else ""
    charge = number(condition.evidence.get("battery_percent"), "%")
    told += f"; its battery was at {charge}" if charge else ""
    silent = f"{_where(condition, place)} has sent nothing {_since(condition, place, at)}"
    return f"The {_instrument(condition)} of {silent}{told}."


def _probe_fault(condition: Condition, place: Facility, at: datetime) -> str:
    charge = number(condition.evidence.get("battery_percent"), "%")
    if charge:
        name = _instrument(condition)
        device = condition.evidence.get("device")
        told = listed(f"{charge} left", _since(condition, place, at))
        return f"The battery of the {name} of {_where(condition, place)} ({device}) is low: {told}."
    fault = condition.evidence.get("fault")
    told = f" ({fault})" if isinstance(fault, str) and fault else ""
    return f"The probe of {_where(condition, place)} can't be believed{told}, {_since(condition, place, at)}."


def _gateway_silent(condition: Condition, place: Facility, at: datetime) -> str:
    said = "says it is offline" if condition.evidence.get("status") == "offline" else "has sent nothing"
    blind = count(condition.evidence.get("channels"), "probe is", "probes are")
    told = f": {blind} not watched" if blind else ""
    name = f"Gateway {condition.subject.name} of {place.name}"
    return f"{name} {said} {_since(condition, place, at)} ({lasting(at - condition.since)}){told}."


def _monitoring_stopped(condition: Condition, place: Facility, at: datetime) -> str:
    parts = condition.evidence.get("parts")
    told = f": {parts}" if isinstance(parts, str) and parts else ""
    why = condition.evidence.get("why")
    because = f" ({why})" if isinstance(why, str) and why else ""
    since = _since(condition, place, at)
    return f"{place.name} is not fully watched{told}{because}, {since}; until this is mended, silence is no good news."


_SENTENCES: Mapping[Kind, Callable[[Condition, Facility, datetime], str]] = {
    "drying-drift": _drying_drift,
    "sudden-wetting": _sudden_wetting,
    "reservoir-low": _reservoir_low,
    "reservoir-empty": _reservoir_empty,
    "reservoir-leak": _reservoir_leak,
    "supply-interrupted": _supply_interrupted,
    "uneven-room": _uneven_room,
    "probe-silent": _probe_silent,
    "probe-fault": _probe_fault,
    "gateway-silent": _gateway_silent,
    "monitoring-stopped": _monitoring_stopped,
}
