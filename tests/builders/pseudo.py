"""A language in which every text is written in other letters: what stays in plain ones was never looked up.

A test patches it in for German, so that units and the names of days are as German has them.
"""

from __future__ import annotations

import gettext
import re
import string
from collections.abc import Collection

import pytest

from wickwatch.texts import Choices, catalogue

#: To whom is spoken where the language is patched in.
READER = Choices("de")

_VALUE = re.compile(r"(%(?:\(\w+\))?[a-z%])")
_OTHER = str.maketrans(
    {
        letter: chr(first + number)
        for first, letters in ((0x430, string.ascii_lowercase), (0x410, string.ascii_uppercase))
        for number, letter in enumerate(letters)
    }
)
_WORD = re.compile(r"[A-Za-zÀ-ÿ]{2,}")

#: Units, and what is said in every language.
_ANYWHERE = frozenset({"mbar", "kPa", "mm", "min", "gal", "MB"})


class Pseudo(gettext.NullTranslations):
    """Every text in Cyrillic letters, with its values as they are."""

    def gettext(self, message: str) -> str:
        return "".join(part if _VALUE.fullmatch(part) else part.translate(_OTHER) for part in _VALUE.split(message))

    def ngettext(self, msgid1: str, msgid2: str, n: int) -> str:
        return self.gettext(msgid1 if n == 1 else msgid2)

    def pgettext(self, context: str, message: str) -> str:
        return self.gettext(message)

    def npgettext(self, context: str, msgid1: str, msgid2: str, n: int) -> str:
        return self.ngettext(msgid1, msgid2, n)


def patch(monkeypatch: pytest.MonkeyPatch) -> None:
    """Look every text up in this language."""
    monkeypatch.setattr(catalogue, "_read", lambda _language: Pseudo())


def never_looked_up(text: str, given: Collection[str]) -> set[str]:
    """Words of a text that no catalogue was asked for; `given` are names and texts that people wrote."""
    for name in sorted(given, key=len, reverse=True):
        text = text.replace(name, "")
    return set(_WORD.findall(text)) - _ANYWHERE
