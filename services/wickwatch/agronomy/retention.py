"""How much water a medium holds at a tension, and how well it then conducts.

Here: the van Genuchten-Mualem functions [1] and their inverse, and scanning curves for a medium that is
wetted again before it is dry. Not here: parameters of named media (`media`), nor what a container holds
(`container`). Scanning curves are pure functions of the last reversal point, so that whoever simulates keeps
the state and this module keeps none.

Tension is positive when drier; at zero and below (standing water) the medium is saturated. Water content is a
volume share [m3/m3].

1. van Genuchten 1980, Soil Sci. Soc. Am. J. 44:892, with m = 1 - 1/n; conductivity after Mualem 1976.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from wickwatch.agronomy.arrays import Floats, floats, positive_number
from wickwatch.agronomy.units import cm_water_from_mbar, mbar_from_cm_water
from wickwatch.errors import InputError


@dataclass(frozen=True)
class VanGenuchten:
    """Parameters of one medium's drying curve.

    `theta_r`, `theta_s` residual and saturated water content [m3/m3]; `alpha_per_cm` [1/cm of water]; `n` >
    1; `ks_cm_per_d` saturated conductivity [cm/d]; `connectivity` Mualem's exponent l; `source` where they
    come from.
    """

    theta_r: float
    theta_s: float
    alpha_per_cm: float
    n: float
    ks_cm_per_d: float
    connectivity: float = 0.5
    source: str = ""

    def __post_init__(self) -> None:
        if not 0.0 <= self.theta_r < self.theta_s <= 1.0:
            raise InputError("water contents", f"{self.theta_r} and {self.theta_s}", "0 <= theta_r < theta_s <= 1")
        if not self.n > 1.0:
            raise InputError("n", self.n, "more than 1")
        positive_number("alpha_per_cm", self.alpha_per_cm)
        positive_number("ks_cm_per_d", self.ks_cm_per_d)

    @property
    def m(self) -> float:
        """Exponent m = 1 - 1/n."""
        return 1.0 - 1.0 / self.n


def effective_saturation(medium: VanGenuchten, tension_mbar: ArrayLike) -> Floats:
    """Return Se = (theta - theta_r)/(theta_s - theta_r), in (0, 1], at tension [mbar, any shape]."""
    return _saturation(medium, tension_mbar, medium.alpha_per_cm)


def theta(medium: VanGenuchten, tension_mbar: ArrayLike) -> Floats:
    """Return water content [m3/m3] at tension [mbar, any shape]."""
    return medium.theta_r + (medium.theta_s - medium.theta_r) * effective_saturation(medium, tension_mbar)


def tension_mbar(medium: VanGenuchten, water_content: ArrayLike) -> Floats:
    """Return tension [mbar] at water content [m3/m3, any shape].

    0 at saturation and above, infinite at `theta_r`, NaN below it: no tension brings the medium there.
    """
    share = (floats(water_content) - medium.theta_r) / (medium.theta_s - medium.theta_r)
    return _tension(medium, share, medium.alpha_per_cm)


def conductivity_cm_per_d(medium: VanGenuchten, tension_mbar: ArrayLike) -> Floats:
    """Return hydraulic conductivity [cm/d] at tension [mbar, any shape]; Ks at zero tension and below."""
    saturation = effective_saturation(medium, tension_mbar)
    # 1 - (1 - Se^(1/m))^m, kept exact where Se is tiny and the plain form would round to nothing.
    share = -np.expm1(medium.m * np.log1p(-np.minimum(saturation ** (1.0 / medium.m), 1.0 - 1e-16)))
    return np.where(
        saturation < 1.0, medium.ks_cm_per_d * saturation**medium.connectivity * share**2, medium.ks_cm_per_d
    )


# Main wetting curve = drying curve with twice the alpha: Kool and Parker 1987, Water Resour. Res. 23:105
# (from memory).
WETTING_ALPHA_RATIO = 2.0


@dataclass(frozen=True)
class Reversal:
    """Where media last turned from drying to wetting or back: tension [mbar], water content, and which way since.

    One value or arrays that broadcast. `Reversal(0, theta_s, wetting=False)` is a medium drying from
    saturation.
    """

    tension_mbar: ArrayLike
    theta: ArrayLike
    wetting: ArrayLike


def scanning_theta(
    medium: VanGenuchten,
    tension_mbar: ArrayLike,
    since: Reversal,
    alpha_ratio: float = WETTING_ALPHA_RATIO,
) -> Floats:
    """Return water content [m3/m3] at tension [mbar] on the scanning curve that starts at the last reversal.

    The scanning curve is the main curve of its direction, stretched to pass through the reversal point
    (Scott, Farquhar and Kouwen 1983, as Kool and Parker 1987 use it; both from memory). Drying from
    saturation is the main drying curve.
    """
    base, top, alpha = _scanning_range(medium, since, alpha_ratio)
    return base + (top - base) * _saturation(medium, tension_mbar, alpha)


def scanning_tension_mbar(
    medium: VanGenuchten,
    water_content: ArrayLike,
    since: Reversal,
    alpha_ratio: float = WETTING_ALPHA_RATIO,
) -> Floats:
    """Return tension [mbar] at water content [m3/m3] on that curve; the inverse of `scanning_theta`."""
    base, top, alpha = _scanning_range(medium, since, alpha_ratio)
    return _tension(medium, (floats(water_content) - base) / (top - base), alpha)


def _saturation(medium: VanGenuchten, tension_mbar: ArrayLike, alpha_per_cm: ArrayLike) -> Floats:
    head_cm = np.maximum(cm_water_from_mbar(tension_mbar), 0.0)
    return (1.0 + (floats(alpha_per_cm) * head_cm) ** medium.n) ** -medium.m


def _tension(medium: VanGenuchten, share: Floats, alpha_per_cm: ArrayLike) -> Floats:
    with np.errstate(divide="ignore", invalid="ignore"):
        # Se^(-1/m) - 1, by expm1: the plain difference loses its digits near saturation.
        ratio = np.expm1(-np.log(np.where(share < 0.0, np.nan, np.minimum(share, 1.0))) / medium.m)
        return mbar_from_cm_water(ratio ** (1.0 / medium.n) / floats(alpha_per_cm))


def _scanning_range(medium: VanGenuchten, since: Reversal, alpha_ratio: float) -> tuple[Floats, Floats, Floats]:
    """Return (residual, saturated, alpha) of the stretched main curve through the reversal point."""
    wetting = np.asarray(since.wetting, dtype=np.bool_)
    alpha = np.where(wetting, medium.alpha_per_cm * alpha_ratio, medium.alpha_per_cm)
    saturation = _saturation(medium, since.tension_mbar, alpha)
    at = floats(since.theta)
    with np.errstate(divide="ignore", invalid="ignore"):
        base = (at - medium.theta_s * saturation) / (1.0 - saturation)
        top = medium.theta_r + (at - medium.theta_r) / saturation
    # Wetting that starts saturated has no room to be stretched: it stays on the main wetting curve.
    base = np.where(wetting & (saturation < 1.0), base, medium.theta_r)
    return base, np.where(wetting, medium.theta_s, top), alpha
