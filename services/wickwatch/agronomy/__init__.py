"""The trade: units, curves, tanks, hydraulics, demand and statistics; arrays in, arrays out.

The public names of this package are its modules, each one subject: `from wickwatch.agronomy import tank,
trend` and then `trend.theil_sen(...)`, so that a call names its subject and nothing is loaded that is not
used. Nothing here reads a clock, a file or a database.
"""

__all__ = [
    "air",
    "arrays",
    "change",
    "container",
    "demand",
    "draw",
    "forecast",
    "hydraulics",
    "lateral",
    "media",
    "network",
    "outflow",
    "regression",
    "retention",
    "robust",
    "segments",
    "sun",
    "tank",
    "trend",
    "units",
    "water",
]
