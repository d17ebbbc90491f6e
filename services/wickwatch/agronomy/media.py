"""Named media with their retention parameters, as one table.

Here: data with its provenance. Not here: any formula (`retention`, `container`). Each entry says in `source`
whether its figures are published or derived, because a derived curve is good for a simulated pot and a
plausibility check, not for dosing a crop.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from wickwatch.agronomy.retention import VanGenuchten
from wickwatch.errors import InputError

_TEXTURE = "published: class average, Carsel and Parrish 1988, Water Resour. Res. 24:755"
_PEAT = "published: Dutch Staring series 2018, {}; a field peat, which holds less air than a potting mix"
_BANDS = (
    "derived: no published van Genuchten table for this mix was at hand. alpha and n are solved so that "
    "air, easily available water and buffering capacity lie in the bands of de Boodt and Verdonck 1972, Acta "
    "Hort. 26 (from memory); Ks is an order of magnitude, from memory"
)
_NURSERY = (
    "derived: porosity, air and container capacity of a 20 cm pot lie in the nursery-mix bands of the "
    "Southern Nursery Association's guide (from memory); Ks is an order of magnitude, from memory"
)
_BARK = (
    "derived: composted pine bark through the two published points 0.38 at 4.0 kPa and 0.17 at 69 kPa, Ks "
    "from 0.115 cm/d at 4.0 kPa (O'Meara, Chappell and van Iersel 2014, HortScience 49:493, abstract); "
    "porosity 0.80 is assumed"
)

MEDIA: Mapping[str, VanGenuchten] = MappingProxyType(
    {
        # potting media
        "peat-perlite": VanGenuchten(0.10, 0.88, 0.185, 1.455, 1000.0, source=_BANDS),
        "coir": VanGenuchten(0.08, 0.92, 0.161, 1.471, 1000.0, source=_BANDS),
        "bark": VanGenuchten(0.0, 0.80, 0.3245, 1.2851, 2700.0, source=_BARK),
        "sand-peat": VanGenuchten(0.06, 0.62, 0.117, 1.597, 500.0, source=_NURSERY),
        # field peats
        "oligotrophic-peat": VanGenuchten(0.0, 0.889, 0.0097, 1.36, 1.46, -0.665, _PEAT.format("O16")),
        "eutrophic-peat": VanGenuchten(0.01, 0.849, 0.0119, 1.27, 3.40, -1.249, _PEAT.format("O17")),
        "sandy-peat": VanGenuchten(0.01, 0.786, 0.0211, 1.28, 12.36, -1.221, _PEAT.format("B16")),
        # soil textures. Loamy sand: some data sets carry alpha 0.125, most transcriptions of the paper 0.124.
        "sand": VanGenuchten(0.045, 0.43, 0.145, 2.68, 712.8, source=_TEXTURE),
        "loamy-sand": VanGenuchten(0.057, 0.41, 0.124, 2.28, 350.2, source=_TEXTURE),
        "sandy-loam": VanGenuchten(0.065, 0.41, 0.075, 1.89, 106.1, source=_TEXTURE),
        "loam": VanGenuchten(0.078, 0.43, 0.036, 1.56, 24.96, source=_TEXTURE),
        "silt": VanGenuchten(0.034, 0.46, 0.016, 1.37, 6.00, source=_TEXTURE),
        "silt-loam": VanGenuchten(0.067, 0.45, 0.020, 1.41, 10.80, source=_TEXTURE),
        "sandy-clay-loam": VanGenuchten(0.100, 0.39, 0.059, 1.48, 31.44, source=_TEXTURE),
        "clay-loam": VanGenuchten(0.095, 0.41, 0.019, 1.31, 6.24, source=_TEXTURE),
        "silty-clay-loam": VanGenuchten(0.089, 0.43, 0.010, 1.23, 1.68, source=_TEXTURE),
        "sandy-clay": VanGenuchten(0.100, 0.38, 0.027, 1.23, 2.88, source=_TEXTURE),
        "silty-clay": VanGenuchten(0.070, 0.36, 0.005, 1.09, 0.48, source=_TEXTURE),
        "clay": VanGenuchten(0.068, 0.38, 0.008, 1.09, 4.80, source=_TEXTURE),
    }
)


def medium(name: str) -> VanGenuchten:
    """Return the parameters of a named medium, or raise InputError naming those known."""
    found = MEDIA.get(name)
    if found is None:
        raise InputError("medium", name, ", ".join(MEDIA))
    return found
