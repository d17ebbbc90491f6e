"""A notice's text as HTML for a mail: the same words, with steps as a list, links to press, and the picture.

It is made from the text, so that both always say the same. Styles stand on the elements since mail readers take no
style sheet. Not here: the text itself (`alarms`), or the mail around it (`channels.email`).
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cache

from jinja2 import Environment, PackageLoader, StrictUndefined, Template

from wickwatch.notify.picture import WIDTH_PX, Picture
from wickwatch.texts import _, spoken

_STEP = re.compile(r"\d+\. (.+)")
_POINT = re.compile(r"- (.+)")
_LINK = re.compile(r"https?://\S+")


@dataclass(frozen=True)
class Item:
    """One step or point, and the address below it where there is one."""

    text: str
    link: str = ""


@dataclass(frozen=True)
class Block:
    """One paragraph: its text, the list it leads to (steps in order, or points), or the address it is a link to."""

    text: str
    items: tuple[Item, ...] = ()
    in_order: bool = False
    link: str = ""


def page(title: str, text: str, picture: Picture | None, cid: str) -> str:
    """The HTML; the picture is shown after the first paragraph, from the mail's part with this id."""
    values = {"title": title, "blocks": list(blocks(text)), "picture": picture, "cid": cid, "width": WIDTH_PX}
    said = {"language": spoken().language, "see_and_answer": _("See and answer")}
    return _template().render(values | said)


def blocks(text: str) -> Iterator[Block]:
    """Paragraphs of a text: lines with a number or dash before them are a list, a line that is an address is a link."""
    for paragraph in text.strip().split("\n\n"):
        words: list[str] = []
        items: list[Item] = []
        in_order = False
        for line in paragraph.splitlines():
            step, point = _STEP.fullmatch(line), _POINT.fullmatch(line)
            listed = step or point
            if listed:
                in_order = step is not None
                items.append(Item(listed[1]))
            elif items and _LINK.fullmatch(line.strip()):
                items[-1] = replace(items[-1], link=line.strip())
            elif _LINK.fullmatch(line):
                yield Block(" ".join(words).removesuffix(":") or line, link=line)
                words = []
            else:
                words.append(line)
        if words or items:
            yield Block(" ".join(words), tuple(items), in_order)


@cache
def _template() -> Template:
    loader = PackageLoader("wickwatch.notify")
    return Environment(loader=loader, autoescape=True, undefined=StrictUndefined, trim_blocks=True).get_template(
        "mail.html"
    )
