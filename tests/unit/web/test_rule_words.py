"""Every rule can be seen and given on a page, in words and with its unit."""

from __future__ import annotations

from wickwatch.fleet import RULES
from wickwatch.web.views.rule_words import GROUPS, UNITS
from wickwatch.web.views.set_up_rules import Level, groups


def test_every_rule_has_words_and_a_unit_and_stands_once() -> None:
    named = [name for group in GROUPS.values() for name in group]
    assert sorted(named) == sorted(RULES)
    assert {rule.unit for rule in RULES.values()} == set(UNITS)


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
