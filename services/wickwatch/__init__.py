"""Watches gravity-fed, tension-actuated irrigation in grow rooms and calls the person on duty.

Nothing but the version lives here, so that importing one layer never pulls in another.
"""

__version__ = "0.1.0"
