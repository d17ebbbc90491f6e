"""HTML templates, and the one function that turns a page's data into an answer.

Templates hold loops and choices only. Pages are compressed in the thread that made them, so that a long one holds
nobody else up. Not here: what a page shows (`web.views`).
"""

from __future__ import annotations

import gzip
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from hashlib import sha256
from pathlib import Path

from fastapi import Request, Response
from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup

from wickwatch import texts
from wickwatch.web.views import words

_FOLDER = Path(__file__).parent

#: Shorter answers gain nothing.
_COMPRESS_FROM = 800
_LEVEL = 5


@cache
def _environment(static_version: str) -> Environment:
    """The templates; what is compiled of them is kept, however many applications are made."""
    made = Environment(
        loader=FileSystemLoader(_FOLDER),
        extensions=["jinja2.ext.i18n"],
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        auto_reload=False,
    )
    made.policies["ext.i18n.trimmed"] = True
    made.install_gettext_callables(  # type: ignore[attr-defined]  # brought by the extension
        lambda *said: texts.translations().gettext(*said),
        lambda *said: texts.translations().ngettext(*said),
        newstyle=True,
        pgettext=lambda *said: texts.translations().pgettext(*said),
        npgettext=lambda *said: texts.translations().npgettext(*said),
    )
    made.globals |= {"static_version": static_version, "words": words, "texts": texts}
    return made


class Templates:
    """All templates, compiled once."""

    def __init__(self, static_version: str) -> None:
        self._environment = _environment(static_version)

    def render(self, name: str, values: Mapping[str, object]) -> Markup:
        """One template as HTML."""
        return Markup(self._environment.get_template(name).render(values))  # noqa: S704 -- autoescaped


@dataclass(frozen=True)
class Packed:
    """HTML ready to be sent, plain and compressed, with the tag that tells it from any other."""

    plain: bytes
    compressed: bytes
    tag: str


def pack(text: str) -> Packed:
    """HTML as it is sent; a short one is not compressed."""
    plain = text.encode()
    compressed = gzip.compress(plain, _LEVEL, mtime=0) if len(plain) >= _COMPRESS_FROM else plain
    return Packed(plain, compressed, f'W/"{sha256(plain).hexdigest()[:32]}"')


def html(request: Request, text: str, status: int = 200, headers: Mapping[str, str] | None = None) -> Response:
    """HTML as an answer: compressed where the browser takes it, and 304 where it has the same already."""
    return send(request, pack(text), status, headers)


def send(request: Request, packed: Packed, status: int = 200, headers: Mapping[str, str] | None = None) -> Response:
    """The same of what was packed before."""
    sent = {"ETag": packed.tag, "Vary": "Accept-Encoding, Accept-Language, Cookie", **(headers or {})}
    if status == 200 and request.headers.get("if-none-match") == packed.tag:
        return Response(status_code=304, headers=sent)
    body = packed.plain
    if packed.compressed is not body and "gzip" in request.headers.get("accept-encoding", ""):
        body = packed.compressed
        sent["Content-Encoding"] = "gzip"
    return Response(body, status, headers=sent, media_type="text/html")
