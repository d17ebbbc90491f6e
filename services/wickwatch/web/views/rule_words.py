"""What each rule is called by a grower, and where it can be given. Not here: its default and range (`fleet.rules`)."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass


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
    "The band": {
        "set_point_mbar": RuleWords("Set point", "The tension that emitters are set to.", _POTS),
        "wet_limit_mbar": RuleWords("Wet limit", "Below it a container is too wet.", _POTS),
        "dry_limit_mbar": RuleWords("Dry limit", "Above it a container is too dry.", _POTS),
        "settled_mbar": RuleWords("Settled within", "So near the set point a container counts as settled.", _POTS),
        "settled_hours": RuleWords("Settled after", "So long it must stay there.", _POTS),
    },
    "Drying and wetting": {
        "drift_days": RuleWords("Drift looks back", "Over so many days the same part of the day is compared.", _POTS),
        "drift_mbar_per_day": RuleWords("Drift from", "A slower drift is not called.", _POTS),
        "drift_horizon_days": RuleWords("Drift calls ahead", "The dry limit must be this near.", _POTS),
        "drift_confidence": RuleWords("Drift is sure to", "1 would be certain.", _POTS),
        "fast_drying_mbar": RuleWords("Fast drying from", "So far above its own usual day.", _POTS),
        "wetting_minutes": RuleWords("Wetting lasts", "A usual watering is over by then.", _POTS),
    },
    "Reservoirs": {
        "low_hours": RuleWords("Low when empty within", "So long before it runs out it is called low."),
    },
    "What is silent": {
        "silent_intervals": RuleWords("Probe silent after", "Times its own usual interval."),
        "silent_minutes": RuleWords("and never sooner than", "However short its interval is."),
        "gateway_silent_minutes": RuleWords("Gateway silent after", "Without any pack.", _WHOLE),
    },
    "Batteries": {
        "battery_low_percent": RuleWords("Battery low below", "Of the device that measures; it is to be changed then."),
    },
    "How alarms come and go": {
        "more_on_delay_minutes": RuleWords("Raise later by", "Where a place raises what goes by itself."),
        "more_off_delay_minutes": RuleWords("Clear later by", "Where an alarm comes and goes."),
    },
    "What is kept": {
        "retention_days": RuleWords("Readings are kept", "Older ones go.", _WHOLE),
    },
}

#: Units as they stand behind a value.
UNITS: Mapping[str, str] = {
    "mbar": "mbar",
    "mbar/day": "mbar a day",
    "hour": "h",
    "day": "days",
    "minute": "min",
    "interval": "intervals",
    "ratio": "of 1",
    "%": "%",
}
