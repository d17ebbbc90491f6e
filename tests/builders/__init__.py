"""Builders: a place, readings and alarms in one line each, written by plain SQL into a migrated database."""
