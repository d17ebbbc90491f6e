"""A document as a tagged PDF (PDF/UA-1) on A4 or Letter.

Set by Typst, which comes as a wheel and needs nothing of the system (`deploy/decisions/report-pdf.md`), with the font
that comes with the charting library, so that text and charts look alike on every machine. Not here: what the document
says.
"""

from __future__ import annotations

import json
import shutil
import tempfile
from dataclasses import asdict
from pathlib import Path
from typing import Literal

import matplotlib as mpl
import typst

from wickwatch.report.document import Document

Paper = Literal["a4", "letter"]

#: By the name people know, what the typesetter calls it.
PAPERS: dict[Paper, str] = {"a4": "a4", "letter": "us-letter"}

_TEMPLATE = Path(__file__).parent / "templates" / "report.typ"


def pdf(document: Document, paper: Paper) -> bytes:
    """The whole file."""
    with tempfile.TemporaryDirectory(prefix="wickwatch-report-") as folder:
        main = Path(folder, "report.typ")
        shutil.copyfile(_TEMPLATE, main)
        Path(folder, "document.json").write_text(json.dumps(asdict(document)), encoding="utf-8")
        made: bytes = typst.compile(
            str(main),
            root=folder,
            font_paths=[str(Path(mpl.get_data_path(), "fonts", "ttf"))],
            ignore_system_fonts=True,
            sys_inputs={"paper": PAPERS[paper]},
            pdf_standards=["ua-1"],
        )
        return made
