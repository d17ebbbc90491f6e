"""The trade: units, curves, tanks, hydraulics, demand and statistics; arrays in, arrays out."""
