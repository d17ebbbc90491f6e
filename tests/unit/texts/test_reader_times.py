"""Times as a reader chose to read them."""

from __future__ import annotations

from datetime import date, time

import pytest

from wickwatch.texts import Choices, date_of, day_name, day_of, speaking, time_of_day


@pytest.mark.parametrize(
    ("at", "said"),
    [
        (time(0, 5), "12:05 am"),
        (time(9, 30), "9:30 am"),
        (time(12, 0), "12:00 pm"),
        (time(18, 45), "6:45 pm"),
    ],
)
def test_a_clock_of_twelve_hours_begins_at_twelve(at: time, said: str) -> None:
    with speaking(Choices(clock="12h")):
        assert time_of_day(at) == said


# Names of days and months are those of the CLDR, which Babel brings.
@pytest.mark.parametrize(
    ("language", "said"),
    [
        ("en", ("Tue", "Tuesday", "3 Nov", "3 November 2026")),
        ("de", ("Di", "Dienstag", "3. Nov", "3. November 2026")),
    ],
)
def test_days_are_named_in_the_readers_language(language: str, said: tuple[str, ...]) -> None:
    day = date(2026, 11, 3)
    with speaking(Choices(language)):
        assert (day_name(day), day_name(day, "wide"), day_of(day), date_of(day, "wide")) == said
