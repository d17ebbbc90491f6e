"""A report as a document: sections of text, figures, steps, tables and charts, in the order they are read.

The one source of both forms: HTML and PDF each have a template that knows these few blocks and nothing else. Not here:
what a report says (`sections`), nor how any block looks (`templates`).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field


@dataclass(frozen=True)
class Text:
    """A paragraph; `tone` is `plain`, `note` (small) or `warning`."""

    text: str
    tone: str = "plain"
    kind: str = field(default="text", init=False)


@dataclass(frozen=True)
class Tile:
    """One key figure: what it is, its value, and what it is compared with."""

    name: str
    value: str
    note: str


@dataclass(frozen=True)
class Tiles:
    """Key figures side by side."""

    items: tuple[Tile, ...]
    kind: str = field(default="tiles", init=False)


@dataclass(frozen=True)
class Step:
    """Something to do, and why."""

    what: str
    why: str


@dataclass(frozen=True)
class Steps:
    """What to do, in order."""

    items: tuple[Step, ...]
    kind: str = field(default="steps", init=False)


@dataclass(frozen=True)
class Table:
    """Rows under named columns; the first column heads its row. `numeric` are the columns set flush right."""

    caption: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    numeric: tuple[int, ...] = ()
    kind: str = field(default="table", init=False)


@dataclass(frozen=True)
class Chart:
    """A chart as SVG; `text` says what it shows to those who do not see it."""

    caption: str
    svg: str
    text: str
    kind: str = field(default="chart", init=False)


Block = Text | Tiles | Steps | Table | Chart


@dataclass(frozen=True)
class Section:
    """A heading and what stands under it; `level` 1 or 2, `id` is its name in links, `page` begins a new one."""

    id: str
    title: str
    blocks: tuple[Block, ...]
    level: int = 1
    page: bool = False


@dataclass(frozen=True)
class Document:
    """A whole report; `about` are the lines under its title, `language` is the name of a catalogue."""

    title: str
    about: tuple[str, ...]
    sections: tuple[Section, ...]
    language: str = "en"


def table(caption: str, columns: Sequence[str], rows: Sequence[Sequence[str]], numeric: Sequence[int] = ()) -> Table:
    """A table from any sequences."""
    return Table(caption, tuple(columns), tuple(tuple(row) for row in rows), tuple(numeric))
