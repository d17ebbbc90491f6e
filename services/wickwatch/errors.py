"""The errors people can cause, and nothing else.

    WickwatchError
    ├── InputError        a value somebody gave: argument, file, field, form
    ├── SettingsError     an environment variable or settings file
    ├── RefusedError      asked for by somebody who may not, or not now
    └── UnavailableError  a part this needs does not answer: database, broker, mail

Each says the thing, the value and what is accepted, in one sentence, so that whoever reads it can act. Any other
exception is a bug and is allowed to be loud.
"""

from __future__ import annotations

from wickwatch.texts import _


class Secret:
    """Stands for a value that nobody is shown, neither in an error nor in a list of settings."""

    def __repr__(self) -> str:
        return "hidden"


class WickwatchError(Exception):
    """Base of everything a person can cause or mend; its text is shown as it is."""


class InputError(WickwatchError, ValueError):
    """A value that can't be taken.

    Attributes name the thing, hold the value, and say what is accepted.
    """

    def __init__(self, thing: str, value: object, accepted: str) -> None:
        shown = repr(value)
        if len(shown) > 120:
            shown = shown[:117] + "..."
        super().__init__(
            _("%(thing)s will not do; accepted: %(accepted)s", thing=thing, accepted=accepted)
            if isinstance(value, Secret)
            else _("%(thing)s is %(value)s; accepted: %(accepted)s", thing=thing, value=shown, accepted=accepted)
        )
        self.thing = thing
        self.value = value
        self.accepted = accepted


class SettingsError(InputError):
    """A setting that stops the start."""


class RefusedError(WickwatchError):
    """Somebody may not do this, or not in this state."""


class UnavailableError(WickwatchError):
    """A part that is needed does not answer; trying again later may help."""

    def __init__(self, part: str, why: str) -> None:
        super().__init__(_("%(part)s does not answer: %(why)s", part=part, why=why))
        self.part = part
        self.why = why
