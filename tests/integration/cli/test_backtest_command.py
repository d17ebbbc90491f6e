"""`wickwatch backtest`: the alarms there would have been, how they would have served, and what a rule changes."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from tests.integration.cli.conftest import Cli, Ran
from tests.integration.watch.house import MINUTE, START, house, publish
from wickwatch.alarms.measures import measure
from wickwatch.alarms.measures_frame import calls_frame, journal_frame
from wickwatch.cli.backtest_measures import Measured, print_measures
from wickwatch.store.connect import connect

EMPTY = START + timedelta(hours=6)


@pytest.fixture
def database_url(plain_url: str) -> str:
    """One database is enough here: the sweep is tested on both elsewhere."""
    return plain_url


@pytest.fixture
def run(cli: Cli, database_url: str) -> Callable[..., Ran]:
    """The command over twelve minutes, in the usual case those in which a reservoir runs empty, at 40 mm an hour."""
    with connect(database_url, "test", autocommit=True) as conn:
        house(conn)
        publish(conn, START, EMPTY + 6 * MINUTE, lambda hours: 70.0 + 40.0 * (6.0 - hours))

    def run(*args: str, middle: datetime = EMPTY, around: timedelta = 6 * MINUTE) -> Ran:
        return cli("backtest", "--from", (middle - around).isoformat(), "--to", (middle + around).isoformat(), *args)

    return run


def test_its_measures_stand_after_the_alarms_beside_their_targets(run: Callable[..., Ran]) -> None:
    ran = run()
    assert ran.code == 0
    alarms, _, measures = ran.out.partition("\nbirchwood, 2026-11-20 05:54 to 2026-11-20 06:06 UTC\n")
    assert "reservoir-empty" in alarms and "with a call." in alarms
    rows = {line.split("  ")[0]: line for line in measures.splitlines()}
    assert rows["measure"].split()[1:] == ["value", "aim", "source"]
    assert rows["Most in any ten minutes"].endswith(" ANSI/ISA-18.2-2016 and IEC 62682, from summaries")
    assert not any('"mine"' in name for name in rows)  # nobody is there to say it


def test_a_rule_set_for_the_run_stands_beside_the_rules_as_they_are(run: Callable[..., Ran]) -> None:
    # Low is looked at every quarter of an hour.
    ran = run("--set", "low_hours=1", "--measures", "--json", middle=EMPTY - 120 * MINUTE, around=30 * MINUTE)
    assert ran.code == 0
    (told,) = [json.loads(line) for line in ran.out.splitlines()]
    assert (told["facility"], told["set"]) == ("birchwood", ["low_hours=1"])
    by_name = {each["name"]: each for each in told["measures"]}
    # Low is told a day ahead as the rules are, and an hour ahead for this run.
    assert (by_name["alarms"]["value"], by_name["alarms"]["as_it_is"]) == (0, 1)


def test_json_lines_are_alarms_alone_as_the_contract_says(run: Callable[..., Ran]) -> None:
    kinds = [json.loads(line)["kind"] for line in run("--json").out.splitlines()]
    assert "reservoir-empty" in kinds


def test_the_table_of_a_changed_rule_has_a_column_for_the_rules_as_they_are(capsys: pytest.CaptureFixture[str]) -> None:
    nothing = measure(journal_frame([]), calls_frame([]), START, EMPTY, ZoneInfo("Europe/Oslo"))
    print_measures([Measured("birchwood", nothing, nothing)], ["low_hours=0.1", "dry_limit_mbar=160"])
    head = capsys.readouterr().out.splitlines()[2]
    assert head.split("  ")[0] == "measure" and "rules as they are  low_hours=0.1, dry_limit_mbar=160  aim" in head
