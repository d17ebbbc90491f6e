"""What is simulated for a score: slices of rooms by seed, interval and season, in a tuning and a reporting part.

Detectors are tuned on the one part and reported on the other, which shares no seed with it. Intervals run from 10 s to
10 min, most of them usual ones; starts fall before clock changes of the zones, at different times of the year. Not
here: what happens in a room (`evaluation.toml`), nor judging it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from typing import Literal, get_args

from wickwatch_simulator.load import load_scenario
from wickwatch_simulator.scenario import Scenario

Part = Literal["tuning", "reporting"]
PARTS: tuple[Part, ...] = get_args(Part)
DAYS = 30.0


@dataclass(frozen=True)
class Slice:
    """One facility of a scenario: so many rooms from one seed, read every `interval_s` seconds from `start` on."""

    seed: int
    facility: str
    rooms: int
    interval_s: int
    start: datetime
    days: float = DAYS

    def scenario(self) -> Scenario:
        """What is simulated."""
        whole = load_scenario("evaluation", self.rooms * _FACILITIES, self.days, self.seed, self.start)
        here = tuple(each for each in whole.facilities if each.slug == self.facility)
        return replace(
            whole, facilities=here, events=tuple(each for each in whole.events if each.facility == self.facility)
        )


#: Facilities that share the rooms of the scenario.
_FACILITIES = 3

WINTER, SPRING, AUTUMN = (
    datetime(2026, 1, 12, tzinfo=UTC),
    datetime(2026, 3, 5, tzinfo=UTC),  # clocks change on 8 March in Halifax, 29 March in Oslo, 5 April in Adelaide
    datetime(2026, 10, 3, tzinfo=UTC),  # on 4 October in Adelaide, 25 October in Oslo, 1 November in Halifax
)

SLICES: Mapping[Part, tuple[Slice, ...]] = {
    "tuning": (
        Slice(2001, "birchwood", 60, 300, SPRING),
        Slice(2002, "saltmarsh", 60, 60, AUTUMN),
        Slice(2003, "quillbeck", 20, 600, WINTER),
        Slice(2004, "birchwood", 7, 10, AUTUMN),
    ),
    "reporting": (
        Slice(1001, "birchwood", 98, 60, AUTUMN),
        Slice(1002, "saltmarsh", 98, 300, SPRING),
        Slice(1003, "quillbeck", 70, 60, WINTER),
        Slice(1004, "quillbeck", 28, 600, AUTUMN),
        Slice(1005, "saltmarsh", 8, 10, WINTER),
    ),
}
