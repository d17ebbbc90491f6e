"""A week's report as files: facts once, then HTML, PDF and tables from them.

Not here: where the files go (`cli.report`, `reporter`).
"""

from __future__ import annotations

import zipfile
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from io import BytesIO

from wickwatch.report.document import Document
from wickwatch.report.facts import Facts, Tell
from wickwatch.report.html import html
from wickwatch.report.pdf import Paper, pdf
from wickwatch.report.sections import document
from wickwatch.report.tables import csv, parquet, tables
from wickwatch.texts import N_

_SETTING: Mapping[Paper, str] = {"a4": N_("setting pages for A4"), "letter": N_("setting pages for Letter")}


@dataclass(frozen=True)
class File:
    """One file of a report."""

    name: str
    media_type: str
    body: bytes


def stem(facts: Facts) -> str:
    """What the names of a report's files begin with."""
    return f"{facts.facility.slug}-{facts.week.name}"


def papers(facts: Facts, sizes: Sequence[Paper], tell: Tell) -> Iterator[File]:
    """The report to be read: HTML, and a PDF for each size of paper."""
    tell(N_("writing"), 0.0)
    yield from read_as(document(facts), stem(facts), sizes, lambda what, share: tell(what, 0.6 + 0.4 * share))


def read_as(whole: Document, name: str, sizes: Sequence[Paper], tell: Tell) -> Iterator[File]:
    """A document as HTML, and as a PDF for each size of paper; `name` is what the files are called."""
    yield File(f"{name}.html", "text/html; charset=utf-8", html(whole))
    for number, size in enumerate(sizes):
        tell(_SETTING[size], number / len(sizes))
        yield File(f"{name}-{size}.pdf", "application/pdf", pdf(whole, size))
    tell(N_("written"), 1.0)


def data(facts: Facts) -> Iterator[File]:
    """The tables, each as CSV and as Parquet."""
    for name, frame in tables(facts).items():
        yield File(f"{stem(facts)}-{name}.csv", "text/csv; charset=utf-8", csv(frame))
        yield File(f"{stem(facts)}-{name}.parquet", "application/vnd.apache.parquet", parquet(frame))


def zipped(name: str, files: Iterable[File]) -> File:
    """Some files as one archive; the same files give the same bytes."""
    out = BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for each in files:
            archive.writestr(zipfile.ZipInfo(each.name), each.body, zipfile.ZIP_DEFLATED)
    return File(name, "application/zip", out.getvalue())
