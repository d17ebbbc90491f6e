"""The files of a report: a PDF for everybody's reader, and HTML that needs nothing else."""

from __future__ import annotations

import io
import re
from collections import Counter
from collections.abc import Iterator
from typing import Any

import numpy as np
import pikepdf
import pypdfium2
import pytest

from wickwatch.report import charts
from wickwatch.report.document import Chart, Document, Section, Step, Steps, Text, Tile, Tiles, table
from wickwatch.report.html import html
from wickwatch.report.pdf import pdf

SVG = charts.weeks(["W01", "W02"], [charts.Run("In band", np.array([1.0, 2.0]), np.array([True, False]))])


@pytest.fixture(scope="module")
def document() -> Document:
    """One of each block, with text that would be markup elsewhere."""
    blocks = (
        Text('A <b>& #strong[text] $x$ *plain* "quoted"'),
        Tiles((Tile("Time in band", "91.0 %", "+1.0 points"),)),
        Steps((Step("Refill R3 <east>", "It runs out."),)),
        table("Rooms", ("Room", "In band"), [("Room 1", "91 %"), ("Room #2", "80 %")], (1,)),
        Chart("Twelve weeks", SVG, "In band, from 1 to 2."),
    )
    return Document("Birchwood House, week 2026-W47", ("Mon to Sun",), (Section("front", "At a glance", blocks),))


def elements(node: Any) -> Iterator[Any]:
    """Every structure element of a tagged PDF."""
    if isinstance(node, pikepdf.Array):
        for each in node:
            yield from elements(each)
    elif isinstance(node, pikepdf.Dictionary):
        if "/S" in node:
            yield node
        if "/K" in node:
            yield from elements(node["/K"])


def test_the_pdf_is_tagged_titled_and_says_its_language(document: Document) -> None:
    with pikepdf.open(io.BytesIO(pdf(document, "a4"))) as file:
        assert file.Root.MarkInfo.Marked
        assert str(file.Root.Lang) == "en"
        assert file.Root.ViewerPreferences.DisplayDocTitle
        with file.open_metadata() as metadata:
            assert metadata["dc:title"] == document.title
            assert metadata["pdfuaid:part"] == "1"


def test_the_pdf_has_headings_header_cells_lists_and_alternative_texts(document: Document) -> None:
    with pikepdf.open(io.BytesIO(pdf(document, "a4"))) as file:
        found = list(elements(file.Root.StructTreeRoot))
        kinds = Counter(str(each["/S"]) for each in found)
        assert {"/H1", "/Table", "/TH", "/TD", "/L", "/LI", "/Figure", "/Caption"} <= kinds.keys()
        assert kinds["/TH"] == 2
        (figure,) = [each for each in found if str(each["/S"]) == "/Figure"]
        assert str(figure["/Alt"]) == "In band, from 1 to 2."


@pytest.mark.parametrize(("paper", "size"), [("a4", (595, 842)), ("letter", (612, 792))])
def test_the_pdf_is_on_the_paper_that_was_asked_for(document: Document, paper: Any, size: tuple[int, int]) -> None:
    page = pypdfium2.PdfDocument(pdf(document, paper))[0]
    assert tuple(round(each) for each in page.get_size()) == size


def test_text_is_text_in_both_forms_and_never_markup(document: Document) -> None:
    said = 'A <b>& #strong[text] $x$ *plain* "quoted"'
    page = pypdfium2.PdfDocument(pdf(document, "a4"))[0]
    assert said in page.get_textpage().get_text_bounded()
    assert "A &lt;b&gt;&amp; #strong[text] $x$ *plain* &#34;quoted&#34;" in html(document).decode()


def test_the_html_is_one_file_without_scripts_and_every_picture_has_its_text(document: Document) -> None:
    text = html(document).decode()
    assert "<script" not in text
    assert not re.search(r'(?:src|href)="(?!data:|#)', text)
    assert "@import" not in text
    assert text.count("<img") == text.count('<img alt="In band, from 1 to 2."') == 1
    assert " style=" not in text
