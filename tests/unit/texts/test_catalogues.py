"""Every catalogue says every text of the source, with the same values in it."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from babel.messages.catalog import Catalog, Message
from babel.messages.extract import extract_from_dir
from babel.messages.frontend import parse_mapping_cfg
from babel.messages.pofile import read_po

import wickwatch
from wickwatch.texts.catalogue import FOLDER

_SOURCE = Path(wickwatch.__file__).parent
_VALUE = re.compile(r"%(?:\((\w+)\)([a-z])|%)")

#: What looks a text up, and which of its arguments that is.
_LOOK_UP = {"_": 0, "N_": 0, "ngettext": 0, "pgettext": 1, "npgettext": 1}

Text = tuple[str | None, str | tuple[str, ...]]

_CATALOGUES = sorted(FOLDER.glob("*.po"))


@pytest.fixture(scope="module")
def taken() -> set[Text]:
    """What stands in the source: context and text, or context and both forms of a text that counts."""
    with (_SOURCE / "texts" / "babel.cfg").open() as file:
        methods, options = parse_mapping_cfg(file)
    return {
        (context, tuple(text) if isinstance(text, tuple) else text)
        for _, _, text, _, context in extract_from_dir(_SOURCE, methods, options, strip_comment_tags=True)
    }


def read(path: Path) -> Catalog:
    with path.open("rb") as file:
        return read_po(file, locale=path.stem)


def messages(path: Path) -> Iterator[Message]:
    return (message for message in read(path) if message.id)


def forms(text: str | list[str] | tuple[str, ...]) -> tuple[str, ...]:
    return (text,) if isinstance(text, str) else tuple(text)


@pytest.mark.parametrize("path", _CATALOGUES, ids=lambda path: path.stem)
def test_a_catalogue_has_the_texts_of_the_source_and_no_others(path: Path, taken: set[Text]) -> None:
    """Otherwise: `make texts`, then translate what is new."""
    there = {(each.context, tuple(each.id) if isinstance(each.id, tuple) else each.id) for each in messages(path)}
    assert there == taken


def test_every_text_that_the_source_looks_up_is_found_by_the_extractor(taken: set[Text]) -> None:
    """It can't look into f-strings: there a text would stay English and nobody would miss it."""
    found = {text if isinstance(text, str) else text[0] for _context, text in taken}
    looked_up = {
        argument.value
        for path in _SOURCE.rglob("*.py")
        for call in ast.walk(ast.parse(path.read_text()))
        if isinstance(call, ast.Call) and isinstance(call.func, ast.Name) and call.func.id in _LOOK_UP
        for argument in call.args[_LOOK_UP[call.func.id] :][:1]
        if isinstance(argument, ast.Constant)
    }
    assert looked_up - found == set()


@pytest.mark.parametrize("path", _CATALOGUES, ids=lambda path: path.stem)
def test_every_text_is_translated_in_every_form_and_none_is_a_guess(path: Path) -> None:
    plurals = read(path).num_plurals
    for each in messages(path):
        assert not each.fuzzy, each.id
        said = forms(each.string or "")
        assert len(said) == (plurals if isinstance(each.id, tuple) else 1), each.id
        assert all(part.strip() for part in said), each.id


@pytest.mark.parametrize("path", _CATALOGUES, ids=lambda path: path.stem)
def test_a_translation_has_the_values_of_its_text(path: Path) -> None:
    """One form of several may leave the count out: "one room"."""
    for each in messages(path):
        wanted = {name for form in forms(each.id) for name in _VALUE.findall(form) if name[0]}
        for said in forms(each.string or ""):
            found = {name for name in _VALUE.findall(said) if name[0]}
            assert found == wanted or (isinstance(each.id, tuple) and found | {("num", "s")} == wanted), each.id


@pytest.mark.parametrize("path", _CATALOGUES, ids=lambda path: path.stem)
def test_every_percent_sign_is_one_of_a_value_or_doubled(path: Path) -> None:
    for each in messages(path):
        for form in (*forms(each.id), *forms(each.string or "")):
            assert "%" not in _VALUE.sub("", form), form


def test_there_is_a_catalogue_beside_english() -> None:
    assert "de" in [path.stem for path in _CATALOGUES]


def test_no_text_is_looked_up_inside_an_f_string_from_which_none_can_be_taken() -> None:
    names = {"_", "N_", "ngettext", "pgettext", "npgettext"}
    for path in _SOURCE.rglob("*.py"):
        for told in (node for node in ast.walk(ast.parse(path.read_text())) if isinstance(node, ast.JoinedStr)):
            called = {
                node.func.id
                for node in ast.walk(told)
                if isinstance(node, ast.Call) and isinstance(node.func, ast.Name)
            }
            assert not called & names, f"{path}:{told.lineno}"
