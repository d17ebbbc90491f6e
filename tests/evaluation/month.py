"""A month of a hundred rooms with a hundred and fifty faults: how often people are called for one true cause.

`python -m tests.evaluation.month` prints the figures. Faults and harmless events are the evaluation set's own, thinned
out by chance. A true cause is an event of the truth that is to be found (`score_rules`, rule 5), or that need not be
and was rightly told of: a reservoir that was refilled in time, a probe that a drought emptied.
"""

from __future__ import annotations

import argparse
import random
import sys
import time
from collections import Counter
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from datetime import timedelta
from typing import Any

from tests.evaluation.people import Crew, Message
from tests.evaluation.replay import judgements
from tests.evaluation.runs import run
from wickwatch.detect.clock import moment
from wickwatch.fleet import KINDS
from wickwatch.watch.backtest import told
from wickwatch_simulator.catalogue import FAULTS
from wickwatch_simulator.load import load_scenario
from wickwatch_simulator.scenario import Scenario
from wickwatch_simulator.score import Score, score

ROOMS, DAYS, FAULTS_WANTED = 100, 30.0, 150
#: The watch begins this long after the readings do: before that it has nothing to judge by.
_BEGINS = timedelta(hours=2)


@dataclass(frozen=True)
class Month:
    """What became of a month: messages to people, those for what they had answered, and the score of the alarms."""

    messages: list[Message]
    for_theirs: list[tuple[Message, Any]]
    alarms: list[dict[str, object]]
    score: Score

    @property
    def to_be_found(self) -> int:
        """True causes that were to be found."""
        return sum(tally.events for tally in self.score.kinds.values())

    @property
    def others(self) -> int:
        """True causes that need not have been found, and were rightly told of."""
        told = (event for verdict in self.score.verdicts for event in verdict.right)
        return len({event for event in told if not event.required})

    @property
    def calls_per_cause(self) -> float:
        """Messages for each true cause, with those for nothing and those for a cause called before."""
        return len(self.messages) / (self.to_be_found + self.others)


def scenario(rooms: int = ROOMS, days: float = DAYS, faults: int = FAULTS_WANTED, seed: int = 2) -> Scenario:
    """The evaluation set with so many of its faults, and the same share of its harmless events."""
    whole = load_scenario("evaluation", rooms, days, seed)
    bad = [event for event in whole.events if event.event in FAULTS]
    kept = set(random.Random(seed).sample(range(len(bad)), min(faults, len(bad))))
    left_out = {id(event) for number, event in enumerate(bad) if number not in kept}
    return replace(whole, events=tuple(event for event in whole.events if id(event) not in left_out))


def month(wanted: Scenario, interval_s: int = 300, processes: int = 2) -> Month:
    """Simulate, watch and call."""
    with ProcessPoolExecutor(processes) as pool:
        parts = list(pool.map(_facility, [(wanted, each.slug, interval_s) for each in wanted.facilities]))
    truth = [record for part in parts for record in part[0]]
    found = [alarm for part in parts for alarm in part[1]]
    messages = [message for part in parts for message in part[2]]
    theirs = [each for part in parts for each in part[3]]
    return Month(messages, theirs, found, score(truth, found))


def _facility(asked: tuple[Scenario, str, int]) -> tuple[list[Any], list[dict[str, object]], list[Message], list[Any]]:
    wanted, slug, interval_s = asked
    facilities = tuple(each for each in wanted.facilities if each.slug == slug)
    events = tuple(each for each in wanted.events if each.facility == slug)
    (here,) = run(replace(wanted, facilities=facilities, events=events), interval_s)
    crew = Crew(here.place)
    crew.live(judgements(here, frozenset(KINDS), moment(here.record.start) + _BEGINS, moment(here.record.end)))
    called = {alarm_id for message in crew.messages for alarm_id in message.events}
    found = [
        told(alarm, here.place) | ({} if alarm.id in called else {"suppressed": True}) for alarm in crew.alarms.values()
    ]
    found.sort(key=lambda each: (str(each["raised_at"]), str(each["kind"]), str(each["id"])))
    return list(here.truth), found, crew.messages, crew.for_theirs


def table(result: Month) -> str:
    """The figures as text."""
    again = Counter(event for message in result.messages for event in message.events.values())
    lines = [
        f"true causes to be found                      {result.to_be_found}",
        f"  without a call                             {len(result.score.missed)}",
        f"true causes that need not be, told of        {result.others}",
        f"calls (messages to people)                   {len(result.messages)}",
        f"  for what the person had said mine to       {len(result.for_theirs)}",
        f"calls for each true cause                    {result.calls_per_cause:.2f}",
        f"  for each that was to be found              {len(result.messages) / result.to_be_found:.2f}",
        "",
        "by what made the call: " + ", ".join(f"{event} {count}" for event, count in again.most_common()),
        "",
        f"{'kind':20} {'causes':>7} {'found':>6} {'right':>6} {'follow':>7} {'false':>6}",
    ]
    for kind, tally in result.score.kinds.items():
        lines.append(
            f"{kind:20} {tally.events:7} {tally.found:6} {tally.right:6} {tally.consequences:7} {tally.false:6}"
        )
    lines += ["", "without a call:"] + [f"  {event}" for event in result.score.missed]
    return "\n".join(lines)


def main() -> None:
    parser = argparse.ArgumentParser(prog="python -m tests.evaluation.month", description=__doc__)
    parser.add_argument("--rooms", type=int, default=ROOMS)
    parser.add_argument("--days", type=float, default=DAYS)
    parser.add_argument("--faults", type=int, default=FAULTS_WANTED)
    parser.add_argument("--seed", type=int, default=2)
    parser.add_argument("--interval", type=int, default=300, help="seconds between readings (%(default)s)")
    given = parser.parse_args()
    begun = time.monotonic()
    result = month(scenario(given.rooms, given.days, given.faults, given.seed), given.interval)
    print(table(result))
    print(f"{time.monotonic() - begun:.0f} s", file=sys.stderr)


if __name__ == "__main__":
    main()
