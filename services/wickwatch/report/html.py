"""A document as one file of HTML: style and charts inside, no script, nothing fetched.

Charts are pictures with their alternative text, so that a page's policy need not allow any style of theirs. Not here:
what the document says.
"""

from __future__ import annotations

import base64
from dataclasses import asdict
from functools import lru_cache
from pathlib import Path

from jinja2 import Environment, FileSystemLoader, StrictUndefined, Template
from markupsafe import Markup

from wickwatch.report.document import Document
from wickwatch.texts import Choices, _, speaking

_FOLDER = Path(__file__).parent / "templates"


def html(document: Document) -> bytes:
    """The whole file."""
    with speaking(Choices(document.language)):
        said = {"to_content": _("To the content"), "contents": _("Contents")}
    return _template().render(document=asdict(document), style=_style(), **said).encode()


@lru_cache(maxsize=1)
def _template() -> Template:
    environment = Environment(
        loader=FileSystemLoader(_FOLDER),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        auto_reload=False,
    )
    environment.filters["data_uri"] = _data_uri
    return environment.get_template("report.html")


@lru_cache(maxsize=1)
def _style() -> Markup:
    return Markup((_FOLDER / "report.css").read_text(encoding="utf-8"))  # noqa: S704 -- our own file


def _data_uri(svg: str) -> str:
    return "data:image/svg+xml;base64," + base64.b64encode(svg.encode()).decode()
