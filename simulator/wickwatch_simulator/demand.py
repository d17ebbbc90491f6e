"""What plants want to drink: full-grown demand times growth, light, and dryness of the air.

Not here: what they get when the medium is dry (`containers.uptake_share`).
"""

from __future__ import annotations

import numpy as np

from wickwatch.agronomy.arrays import Bools, Floats

#: Share of demand in the dark, at equal dryness of air (common practice: a few percent to a tenth).
DARK_SHARE = 0.08
#: Vapour pressure deficit at which the stated litres per day are drunk.
REFERENCE_KPA = 1.25


def deficit_kpa(temperature_degc: Floats, humidity_rh: Floats) -> Floats:
    """Vapour pressure deficit [kPa]; saturation after Tetens as FAO-56 eq. 11 has it."""
    saturated = 0.6108 * np.exp(17.27 * temperature_degc / (temperature_degc + 237.3))
    return saturated * (1.0 - np.minimum(humidity_rh, 99.0) / 100.0)


def drive(light: Bools, temperature_degc: Floats, humidity_rh: Floats) -> Floats:
    """Demand relative to a lit hour at the reference deficit, any shape.

    Stomata close as air dries, so demand grows with the square root of the deficit beyond it and linearly below;
    a shape chosen here.
    """
    dryness = deficit_kpa(temperature_degc, humidity_rh) / REFERENCE_KPA
    return np.where(light, 1.0, DARK_SHARE) * np.minimum(dryness, np.sqrt(dryness))


def size(age_days: Floats, half_days: Floats, spread_days: Floats) -> Floats:
    """Plant size, share of full-grown, logistic in age."""
    return 1.0 / (1.0 + np.exp(-(age_days - half_days) / spread_days))
