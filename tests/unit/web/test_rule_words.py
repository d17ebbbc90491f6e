"""Every rule can be seen and given on a page, in words and with its unit."""

from __future__ import annotations

import pytest

from wickwatch.fleet import RULES
from wickwatch.texts import TENSION_UNITS, Choices, languages, speaking
from wickwatch.web.forms import number
from wickwatch.web.views.rule_words import GROUPS, rule_shown, rule_typed, unit_behind
from wickwatch.web.views.set_up_rules import Level, groups


def test_every_rule_has_words_and_a_unit_and_stands_once() -> None:
    named = [name for group in GROUPS.values() for name in group]
    assert sorted(named) == sorted(RULES)
    assert all(unit_behind(name) for name in RULES)


def test_a_value_comes_from_the_nearest_place_that_gives_it() -> None:
    above = [Level("House", {"low_hours": 12.0, "set_point_mbar": 95.0}), Level("Room 3", {"set_point_mbar": 90.0})]
    lines = {
        line.name: line
        for group in groups("container", above, {"dry_limit_mbar": 150.0}, {}, {})
        for line in group.lines
    }
    assert (lines["set_point_mbar"].inherited, lines["set_point_mbar"].source) == ("90", "from Room 3")
    assert (lines["low_hours"].inherited, lines["low_hours"].source) == ("12", "from House")
    assert (lines["wet_limit_mbar"].inherited, lines["wet_limit_mbar"].source) == ("60", "the default")
    assert (lines["dry_limit_mbar"].given, lines["dry_limit_mbar"].value) == (True, "150")
    assert "retention_days" not in lines  # a facility's matter


@pytest.mark.parametrize("language", languages())
@pytest.mark.parametrize("unit", TENSION_UNITS)
@pytest.mark.parametrize("value", [100.0, 103.7, 97.123456789012, 3.0, 1 / 3])
def test_a_rule_that_is_saved_as_it_was_shown_stays_exactly_what_it_is(language: str, unit: str, value: float) -> None:
    with speaking(Choices(language, unit)):  # type: ignore[arg-type]
        for name in ("set_point_mbar", "drift_mbar_per_day", "settled_hours"):
            text = rule_shown(name, value)
            assert rule_typed(name, number(text), text, value) == value


# Derived: 1 kPa is 10 mbar.
@pytest.mark.parametrize(
    ("choices", "typed", "value"),
    [
        (Choices(), "103.7", 103.7),
        (Choices(tension_unit="kPa"), "10.37", 103.7),
        (Choices("de", "cbar"), "10,37", 103.7),
        (Choices("de"), "103,7", 103.7),
    ],
)
def test_a_rule_is_typed_in_the_unit_that_its_reader_chose(choices: Choices, typed: str, value: float) -> None:
    with speaking(choices):
        assert rule_typed("set_point_mbar", number(typed), typed, 90.0) == value


def test_what_may_mean_thousands_to_its_reader_is_not_guessed() -> None:
    assert number("1,234") == "1,234"
    assert number("1.234") == 1.234
    with speaking(Choices("de")):
        assert number("1.234") == "1.234"
        assert number("1,234") == 1.234
