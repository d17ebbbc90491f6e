"""Rules of watching: each is obeyed somewhere, and what was a rule once is taken and does nothing."""

from __future__ import annotations

from pathlib import Path

import pytest

from wickwatch.errors import InputError
from wickwatch.fleet import RULES, Rules, check, inherit

_SOURCE = Path(__file__).parents[3] / "services" / "wickwatch"
#: Where a rule's name changes nothing of what is done: its own table, and its words on a page.
_WORDS = (_SOURCE / "fleet" / "rules.py", _SOURCE / "web" / "views" / "rule_words.py")


@pytest.mark.parametrize("name", RULES)
def test_something_goes_by_every_rule(name: str) -> None:
    texts = (path.read_text() for path in _SOURCE.rglob("*.py") if path not in _WORDS)
    assert any(f'"{name}"' in text or f".{name}" in text for text in texts)


def test_what_was_a_rule_once_is_taken_and_left_out() -> None:
    assert check({"wetting_minutes": 45, "low_hours": 12}, "room") == {"low_hours": 12.0}
    assert inherit(Rules(), {"wetting_minutes": 45}, "room") == Rules()


def test_a_rule_that_never_was_is_refused_by_name() -> None:
    with pytest.raises(InputError, match="wetting_hours"):
        check({"wetting_hours": 45}, "room")
