"""What each rule is called by a grower, and where it can be given. Not here: its default and range (`fleet.rules`)."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from wickwatch.fleet import RULES
from wickwatch.texts import N_, Words, _, field, tension_unit


@dataclass(frozen=True)
class RuleWords:
    """A rule's label with a hint; `kinds` are the places that look at it."""

    label: str
    hint: str
    kinds: tuple[str, ...] = ("facility", "room", "reservoir", "container")


_POTS = ("facility", "room", "container")
_WHOLE = ("facility",)

#: Rules by name, in groups.
GROUPS: Mapping[str, Mapping[str, RuleWords]] = {
    N_("The band"): {
        "set_point_mbar": RuleWords(N_("Set point"), N_("The tension that emitters are set to."), _POTS),
        "wet_limit_mbar": RuleWords(N_("Wet limit"), N_("Below it a container is too wet."), _POTS),
        "dry_limit_mbar": RuleWords(N_("Dry limit"), N_("Above it a container is too dry."), _POTS),
        "settled_mbar": RuleWords(
            N_("Settled within"), N_("So near the set point a container counts as settled."), _POTS
        ),
        "settled_hours": RuleWords(N_("Settled after"), N_("So long it must stay there."), _POTS),
    },
    N_("Drying and wetting"): {
        "drift_days": RuleWords(
            N_("Drift looks back"), N_("Over so many days the same part of the day is compared."), _POTS
        ),
        "drift_mbar_per_day": RuleWords(N_("Drift from"), N_("A slower drift is not called."), _POTS),
        "drift_horizon_days": RuleWords(N_("Drift calls ahead"), N_("The dry limit must be this near."), _POTS),
        "drift_confidence": RuleWords(N_("Drift is sure to"), N_("1 would be certain."), _POTS),
        "fast_drying_mbar": RuleWords(N_("Fast drying from"), N_("So far above its own usual day."), _POTS),
    },
    N_("Reservoirs"): {
        "low_hours": RuleWords(N_("Low when empty within"), N_("So long before it runs out it is called low.")),
    },
    N_("What is silent"): {
        "silent_intervals": RuleWords(N_("Probe silent after"), N_("Times its own usual interval.")),
        "silent_minutes": RuleWords(N_("and never sooner than"), N_("However short its interval is.")),
        "gateway_silent_minutes": RuleWords(N_("Gateway silent after"), N_("Without any pack."), _WHOLE),
    },
    N_("Batteries"): {
        "battery_low_percent": RuleWords(
            N_("Battery low below"), N_("Of the device that measures; it is to be changed then.")
        ),
    },
    N_("How alarms come and go"): {
        "more_on_delay_minutes": RuleWords(N_("Raise later by"), N_("Where a place raises what goes by itself.")),
        "more_off_delay_minutes": RuleWords(N_("Clear later by"), N_("Where an alarm comes and goes.")),
    },
    N_("What is kept"): {
        "retention_days": RuleWords(N_("Readings are kept"), N_("Older ones go."), _WHOLE),
    },
}

#: Units as they stand behind a value, other than those of tension.
_UNITS = Words(
    {
        "hour": N_("h"),
        "day": N_("days"),
        "minute": N_("min"),
        "interval": N_("intervals"),
        "ratio": N_("of 1"),
    }
)


def unit_behind(name: str) -> str:
    """The unit of a rule as it stands behind a value."""
    unit = RULES[name].unit
    if unit == "mbar/day":
        return _("%(unit)s a day", unit=tension_unit().name)
    return tension_unit().name if unit == "mbar" else _UNITS.get(unit, unit)


def rule_shown(name: str, value: float) -> str:
    """A rule's value as its field holds it."""
    return field(tension_unit().shown(value) if _of_tension(name) else value)


def rule_typed(name: str, typed: float | str | None, text: str, there: float | None) -> object:
    """What was typed for a rule, read and as a text; exactly what is `there` where that is what its field held."""
    if there is not None and text.strip() == rule_shown(name, there):
        return there
    return tension_unit().inside(typed) if _of_tension(name) and isinstance(typed, int | float) else typed


def _of_tension(name: str) -> bool:
    return RULES[name].unit.startswith("mbar")
