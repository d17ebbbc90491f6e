"""A form of set-up as its page shows it. Not here: its fields (`web.views.part_fields`)."""

from __future__ import annotations

from dataclasses import dataclass

from wickwatch.web.views.fields import Group
from wickwatch.web.views.tank_check import TankCheck


@dataclass(frozen=True)
class Crumb:
    """One step of the way back."""

    text: str
    href: str


@dataclass(frozen=True)
class FormPage:
    """One form; `check` is that of a reservoir, `remove` leads to where the thing is taken out of use."""

    crumbs: tuple[Crumb, ...]
    title: str
    groups: tuple[Group, ...]
    errors: tuple[str, ...]
    action: str
    button: str
    back: str
    remove: str = ""
    check: TankCheck | None = None
    level: str = ""
    known: str = ""
    volume_unit: str = ""


@dataclass(frozen=True)
class RemovePage:
    """The question before a thing is taken out of use; `follows` is what goes with it."""

    crumbs: tuple[Crumb, ...]
    title: str
    follows: tuple[str, ...]
    action: str
    back: str
    refused: str = ""
