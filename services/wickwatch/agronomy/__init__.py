"""The trade: units, curves, tanks, hydraulics, demand and statistics; arrays in, arrays out.

Each module is one subject and is imported by its name (`from wickwatch.agronomy import tank, trend`), so that
a caller reads `trend.theil_sen(...)` and knows the subject. Nothing here reads a clock, a file or a database.
"""
