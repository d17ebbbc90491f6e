"""A facility's own text for a kind of alarm: where the cans stand, whom to wake, what never to touch.

Not here: the steps that hold everywhere (`alarms.advice`).
"""

from __future__ import annotations

from collections.abc import Mapping

from wickwatch.errors import InputError
from wickwatch.fleet.kinds import KINDS
from wickwatch.texts import _

#: Characters of one text: it must be read on a phone at night. Chosen here.
ADVICE_LONGEST = 600


def check_advice(given: Mapping[str, object], where: str) -> dict[str, str]:
    """Texts by kind of alarm as they are kept: trimmed, and left out where nothing is said. Raises InputError."""
    texts: dict[str, str] = {}
    for kind, text in given.items():
        if kind not in KINDS:
            raise InputError(f"{where}: advice", kind, _("one of %(names)s", names=", ".join(KINDS)))
        lines = text.strip().splitlines() if isinstance(text, str) else None
        if lines is None or len(kept := "\n".join(lines)) > ADVICE_LONGEST or not all(map(str.isprintable, lines)):
            raise InputError(
                f"{where}: advice for {kind}",
                text,
                _("lines of text, %(most)s characters at most", most=ADVICE_LONGEST),
            )
        if kept:
            texts[kind] = kept
    return texts
