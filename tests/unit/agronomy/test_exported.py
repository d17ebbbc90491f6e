"""What the package offers."""

from __future__ import annotations

from importlib import import_module
from pkgutil import iter_modules

from wickwatch import agronomy


def test_every_module_of_the_trade_is_listed_and_can_be_imported() -> None:
    assert [module.name for module in iter_modules(agronomy.__path__)] == sorted(agronomy.__all__)
    assert all(import_module(f"wickwatch.agronomy.{name}").__doc__ for name in agronomy.__all__)
