"""What plants want to drink: full-grown demand times growth, light, and dryness of the air.

The two-term form of Baille, Baille and Laury 1994, Scientia Hort. 59:83 (from memory): one part goes with light, one
with the vapour pressure deficit. Scaled so that a full-grown plant drinks its stated litres in a day of twelve lit
hours at the reference deficit. Not here: what it gets when the medium is dry (`containers.uptake_share`).
"""

from __future__ import annotations

import numpy as np

from wickwatch.agronomy.air import vapour_pressure_deficit_kpa
from wickwatch.agronomy.arrays import Bools, Floats

#: Deficit at which the stated litres a day are drunk.
REFERENCE_KPA = 1.25
#: Parts of a lit hour's demand that go with light and with deficit, and the part left to deficit in the dark (stomata
#: mostly closed); chosen here, mid-range for leafy pot plants.
LIGHT_PART, DEFICIT_PART, DARK_PART = 0.55, 0.45, 0.12
#: Lit hours' worth of demand in the day by which litres a day are stated: twelve lit, twelve dark.
HOURS_WORTH = 12.0 * (1.0 + DARK_PART)


def day_worth(lit_hours: float) -> float:
    """Demand of a day with this much light, at the reference deficit, relative to one of twelve lit hours."""
    return (lit_hours + DARK_PART * (24.0 - lit_hours)) / HOURS_WORTH


def drive(light: Bools, temperature_degc: Floats, humidity_rh: Floats) -> Floats:
    """Demand relative to a lit hour at the reference deficit, any shape."""
    dryness = vapour_pressure_deficit_kpa(temperature_degc, humidity_rh) / REFERENCE_KPA
    return np.where(light, LIGHT_PART + DEFICIT_PART * dryness, DARK_PART * dryness)


def size(age_days: Floats, half_days: Floats, spread_days: Floats) -> Floats:
    """Plant size, share of full-grown, logistic in age."""
    return np.asarray(1.0 / (1.0 + np.exp(-(age_days - half_days) / spread_days)))
