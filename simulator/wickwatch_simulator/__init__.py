"""A physically simulated fleet that speaks the public contract; never imports the detectors it is used to test."""
