"""The one sentence of an alarm: what is wrong, where, how bad, how fast, in facility time.

For a tired person: the thing first, the number next, no word that needs a manual. A number that a finding does not
give is left out rather than guessed. It is said to whoever is spoken to; the watch speaks to nobody, so what it stores
is plain English, and `said` says that again to a reader. Not here: what to do (`advice`), nor how it ended (`ending`).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, Protocol

from wickwatch.alarms.facts import Facts, kept_facts
from wickwatch.alarms.words import clock, lasting, listed, marked, of_number, whole
from wickwatch.fleet import Kind
from wickwatch.texts import N_, PLAIN, _, draw, ngettext, number, spoken, tension, volume

#: A name may be long; the sentence must fit a phone's screen.
_LONGEST = 400


class Stored(Protocol):
    """An alarm as it is kept, by whatever statement it was read."""

    @property
    def kind(self) -> str:
        """What it is."""

    @property
    def message(self) -> str:
        """Its sentence in plain English."""

    @property
    def evidence(self) -> Mapping[str, Any]:
        """The numbers in it."""

    @property
    def made_of(self) -> Mapping[str, Any]:
        """What else it was made of; empty for an alarm of the time before that was kept."""


def sentence(told: Facts) -> str:
    """The alarm's message, with what is to be said of failed work after it, which is never cut."""
    remark = told.failed.remark if told.failed else ""
    shown, room = " ".join(_SENTENCES[told.kind](told).split()), _LONGEST - len(remark) - bool(remark)
    shown = shown if len(shown) <= room else shown[: room - 1] + "…"
    return f"{shown} {remark}" if remark else shown


def said(alarm: Stored) -> str:
    """An alarm's message for whoever is spoken to; as it is stored where it can't be said again."""
    kept = alarm.made_of.get("message")
    if kept is None or spoken() == PLAIN:
        return alarm.message
    return sentence(kept_facts(alarm.kind, alarm.evidence, kept))


def _where(told: Facts) -> str:
    return _("%(thing)s in %(room)s", thing=told.subject, room=told.room)


def _since(told: Facts) -> str:
    return _("since %(time)s", time=clock(told.since, told.at, told.zone))


def _harm(told: Facts) -> str | None:
    """When harm is expected, None where that is not known or over."""
    if told.harm_at is None or told.harm_at <= told.at:
        return None
    return clock(told.harm_at, told.at, told.zone)


def _drying_drift(told: Facts) -> str:
    evidence = told.evidence
    limit, harm = of_number(tension, evidence.get("dry_limit_mbar")), _harm(told)
    reaches: str | None
    if harm:
        reaches = (
            _("at its dry limit of %(limit)s about %(time)s at this rate", limit=limit, time=harm)
            if limit
            else _("at its dry limit about %(time)s at this rate", time=harm)
        )
    elif _above(told) or not limit:
        reaches = _("past its dry limit of %(limit)s", limit=limit) if limit else None
    else:
        reaches = _("dry limit %(limit)s", limit=limit)
    numbers = listed(of_number(tension, evidence.get("tension_mbar")), _pace(told), reaches)
    return _("%(where)s is drying out: %(numbers)s.", where=_where(told), numbers=numbers or _since(told))


def _above(told: Facts) -> bool:
    now, limit = told.evidence.get("tension_mbar"), told.evidence.get("dry_limit_mbar")
    return isinstance(now, int | float) and isinstance(limit, int | float) and now >= limit


def _pace(told: Facts) -> str | None:
    slope = of_number(lambda mbar: tension(mbar, 1), told.evidence.get("slope_mbar_per_day"))
    if slope:
        return _("%(tension)s more each day", tension=slope)
    above = of_number(tension, told.evidence.get("above_usual_mbar"))
    return _("%(tension)s drier than its usual day", tension=above) if above else None


def _sudden_wetting(told: Facts) -> str:
    evidence, harm = told.evidence, _harm(told)
    limit, excess = of_number(tension, evidence.get("wet_limit_mbar")), of_number(draw, evidence.get("excess_l_per_h"))
    numbers = listed(
        of_number(tension, evidence.get("tension_mbar")),
        _("wet limit %(limit)s", limit=limit) if limit else None,
        _since(told),
        _("%(draw)s more than usual drawn", draw=excess) if excess else None,
        _("runs over about %(time)s at this rate", time=harm) if harm else None,
    )
    return _(
        "%(where)s is getting water it does not need, its emitter may be stuck open: %(numbers)s.",
        where=_where(told),
        numbers=numbers,
    )


def _reservoir_low(told: Facts) -> str:
    evidence, where, harm = told.evidence, _where(told), _harm(told)
    left, drawn = of_number(volume, evidence.get("usable_l")), of_number(draw, evidence.get("draw_l_per_h"))
    numbers = listed(
        _("%(volume)s left", volume=left) if left else _water(told),
        _("%(draw)s drawn", draw=drawn) if drawn else None,
    )
    if not harm or told.harm_at is None:
        return (
            _("%(where)s is low: %(numbers)s.", where=where, numbers=numbers)
            if numbers
            else _("%(where)s is low.", where=where)
        )
    times = {"where": where, "time": harm, "span": lasting(told.harm_at - told.at)}
    if numbers:
        return _("%(where)s will be empty about %(time)s, in %(span)s: %(numbers)s.", numbers=numbers, **times)
    return _("%(where)s will be empty about %(time)s, in %(span)s.", **times)


def _water(told: Facts) -> str | None:
    level = of_number(number, told.evidence.get("level_mm"))
    return _("%(level)s mm of water", level=level) if level else None


def _reservoir_empty(told: Facts) -> str:
    needed, dry = of_number(number, told.evidence.get("empty_level_mm")), whole(told.evidence.get("containers"))
    numbers = listed(_water(told), _("%(level)s mm needed", level=needed) if needed else None, _since(told))
    if not dry:
        return _("%(where)s is empty: %(numbers)s.", where=_where(told), numbers=numbers)
    return ngettext(
        "%(where)s is empty: %(numbers)s; %(num)d container has no water.",
        "%(where)s is empty: %(numbers)s; %(num)d containers have no water.",
        dry,
        where=_where(told),
        numbers=numbers,
    )


def _reservoir_leak(told: Facts) -> str:
    rate, where, since = of_number(draw, told.evidence.get("leak_l_per_h")), _where(told), _since(told)
    if rate:
        return _(
            "%(where)s loses %(draw)s while nothing should be drinking, %(since)s.", where=where, draw=rate, since=since
        )
    return _("%(where)s loses water while nothing should be drinking, %(since)s.", where=where, since=since)


def _supply_interrupted(told: Facts) -> str:
    dry, where, since = whole(told.evidence.get("containers")), _where(told), _since(told)
    first = told.evidence.get("dry_from")
    begins = " " + _("From %(first)s on none is watered: look for air just before it.", first=first) if first else ""
    if dry:
        lacks = ngettext(
            "%(where)s gets no water: %(num)d container dries together while its reservoir is not empty, %(since)s.",
            "%(where)s gets no water: %(num)d containers dry together while its reservoir is not empty, %(since)s.",
            dry,
            where=where,
            since=since,
        )
        return lacks + begins
    return _(
        "%(where)s gets no water: its containers dry together while its reservoir is not empty, %(since)s.",
        where=where,
        since=since,
    )


def _uneven_room(told: Facts) -> str:
    spread, usual = (of_number(tension, told.evidence.get(name)) for name in ("spread_mbar", "usual_mbar"))
    numbers = listed(
        _("%(tension)s between like containers", tension=spread) if spread else None,
        _("%(tension)s is usual", tension=usual) if usual else None,
        _since(told),
    )
    return _(
        "%(room)s has become uneven, some emitters want re-setting: %(numbers)s.", room=told.subject, numbers=numbers
    )


def _instrument(told: Facts) -> str:
    if told.subject_type == "reservoir":
        return "level"
    return "twin" if told.evidence.get("twin") else "tension"


_SILENT = {
    "tension": N_("The probe of %(where)s has sent nothing %(told)s."),
    "twin": N_("The second probe of %(where)s has sent nothing %(told)s."),
    "level": N_("The level sensor of %(where)s has sent nothing %(told)s."),
}

_WEAK = {
    "tension": N_("The battery of the probe of %(where)s (%(device)s) is low: %(told)s."),
    "twin": N_("The battery of the second probe of %(where)s (%(device)s) is low: %(told)s."),
    "level": N_("The battery of the level sensor of %(where)s (%(device)s) is low: %(told)s."),
}


def _probe_silent(told: Facts) -> str:
    evidence = told.evidence
    last = of_number(_height if told.subject_type == "reservoir" else tension, evidence.get("last_value"))
    charge = of_number(number, evidence.get("battery_percent"))
    parts = [
        _since(told),
        *([_("its last reading was %(reading)s", reading=last)] if last else []),
        *([_("its battery was at %(percent)s %%", percent=charge)] if charge else []),
    ]
    return _(_SILENT[_instrument(told)], where=_where(told), told="; ".join(parts))


def _height(mm: float) -> str:
    return f"{number(mm)} mm"


def _probe_fault(told: Facts) -> str:
    evidence, where, since = told.evidence, _where(told), _since(told)
    charge, fault = of_number(number, evidence.get("battery_percent")), evidence.get("fault")
    if charge:
        left = listed(_("%(percent)s %% left", percent=charge), since)
        return _(_WEAK[_instrument(told)], where=where, device=evidence.get("device"), told=left)
    if isinstance(fault, str) and fault:
        return _(
            "The probe of %(where)s can't be believed (%(fault)s), %(since)s.",
            where=where,
            fault=marked(fault),
            since=since,
        )
    return _("The probe of %(where)s can't be believed, %(since)s.", where=where, since=since)


def _gateway_silent(told: Facts) -> str:
    values = {
        "gateway": told.subject,
        "facility": told.facility,
        "since": _since(told),
        "span": lasting(told.at - told.since),
    }
    if told.evidence.get("status") == "offline":
        text = _("Gateway %(gateway)s of %(facility)s says it is offline %(since)s (%(span)s)", **values)
    else:
        text = _("Gateway %(gateway)s of %(facility)s has sent nothing %(since)s (%(span)s)", **values)
    blind = whole(told.evidence.get("channels"))
    if not blind:
        return f"{text}."
    return ngettext(
        "%(silent)s: %(num)d probe is not watched.", "%(silent)s: %(num)d probes are not watched.", blind, silent=text
    )


def _monitoring_stopped(told: Facts) -> str:
    parts, why = (_parts(told.evidence.get(name), sign) for name, sign in (("parts", ", "), ("why", "; ")))
    values = {"facility": told.facility, "parts": parts, "why": why, "since": _since(told)}
    if parts and why:
        text = _("%(facility)s is not fully watched: %(parts)s (%(why)s), %(since)s", **values)
    elif parts:
        text = _("%(facility)s is not fully watched: %(parts)s, %(since)s", **values)
    elif why:
        text = _("%(facility)s is not fully watched (%(why)s), %(since)s", **values)
    else:
        text = _("%(facility)s is not fully watched, %(since)s", **values)
    return _("%(unwatched)s; until this is mended, silence is no good news.", unwatched=text)


def _parts(joined: object, sign: str) -> str:
    """Texts of the watching itself, each in the reader's words where it is one that is known."""
    return sign.join(marked(part) for part in joined.split(sign)) if isinstance(joined, str) and joined else ""


_SENTENCES: Mapping[Kind, Callable[[Facts], str]] = {
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
