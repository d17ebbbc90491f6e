"""Texts, looked up in the catalogue of the reader's language when they are said.

A catalogue is one file, `catalogues/LANGUAGE.po`; English is the texts themselves. It is read as it is written, so
there is nothing to compile. What stands in a text is named, `%(name)s`, here as in templates, and a percent sign is
`%%`.
"""

from __future__ import annotations

import gettext
import io
from collections.abc import Iterator, Mapping
from functools import cache
from pathlib import Path

from babel import Locale
from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po

from wickwatch.texts.choices import PLAIN, spoken

FOLDER = Path(__file__).parent / "catalogues"


def _(message: str, /, **values: object) -> str:
    """A text in the reader's language, with values by name."""
    return translations().gettext(message) % values


def ngettext(one: str, many: str, num: int, /, **values: object) -> str:
    """The same of a text that counts; the count is `num` in it."""
    return translations().ngettext(one, many, num) % {"num": num, **values}


def pgettext(context: str, message: str, /, **values: object) -> str:
    """The same of a short text that means several things; `context` says which."""
    return translations().pgettext(context, message) % values


def npgettext(context: str, one: str, many: str, num: int, /, **values: object) -> str:
    """Both."""
    return translations().npgettext(context, one, many, num) % {"num": num, **values}


def N_(message: str) -> str:  # noqa: N802 -- the name that extractors know
    """Mark a text that is looked up later, where it is said."""
    return message


class Words(Mapping[str, str]):
    """Marked texts by key, each looked up when it is read."""

    def __init__(self, marked: Mapping[str, str]) -> None:
        self._marked = dict(marked)

    def __getitem__(self, key: str) -> str:
        return _(self._marked[key])

    def __iter__(self) -> Iterator[str]:
        return iter(self._marked)

    def __len__(self) -> int:
        return len(self._marked)


def capital(text: str) -> str:
    """A text as a sentence or a heading begins, the rest as it is."""
    return text[:1].upper() + text[1:]


def country(code: str) -> str:
    """The name of a country (ISO 3166-1), the code where there is none."""
    name: str = Locale.parse(spoken().language).territories.get(code, code)
    return name


@cache
def languages() -> Mapping[str, str]:
    """Languages that can be chosen, with their own names for themselves: English, and each that has a catalogue."""
    names = [PLAIN.language, *sorted(path.stem for path in FOLDER.glob("*.po"))]
    return {name: (Locale.parse(name).get_display_name(name) or name).capitalize() for name in names}


def translations() -> gettext.NullTranslations:
    """The catalogue of the reader's language, for what puts values in by itself."""
    return _read(spoken().language)


@cache
def _read(language: str) -> gettext.NullTranslations:
    """The catalogue of a language; of English and of a language that has none the texts themselves."""
    path = FOLDER / f"{language}.po"
    if language not in languages() or not path.exists():
        return gettext.NullTranslations()
    with path.open("rb") as file:
        catalogue = read_po(file, locale=language)
    compiled = io.BytesIO()
    write_mo(compiled, catalogue)
    compiled.seek(0)
    return gettext.GNUTranslations(compiled)
