"""`wickwatch backtest`: the alarms that the detectors would have raised over stored history; changes nothing."""

from __future__ import annotations

import argparse
import json
from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from wickwatch.cli.arguments import Subparsers, add_period, command, slug

if TYPE_CHECKING:
    from wickwatch.settings import Settings

_COLUMNS = ("raised_at", "cleared_at", "priority", "kind", "facility", "room", "subject", "called", "message")


def add_parser(commands: Subparsers[argparse.ArgumentParser]) -> None:
    """Add this command's arguments."""
    made = command(
        commands,
        "backtest",
        "runs the detectors and alarm rules over stored history, changes nothing, and prints the alarms",
        run,
    )
    add_period(made)
    made.add_argument("--facility", type=slug, metavar="F", help="only this facility, by its slug")
    made.add_argument(
        "--set", action="append", default=[], metavar="NAME=VALUE", help="a rule for this run only; may be repeated"
    )
    made.add_argument("--json", action="store_true", help="JSON Lines, one alarm each")


def run(args: argparse.Namespace, settings: Settings) -> int:
    """Replay each facility and print its alarms, oldest first."""
    from wickwatch.cli.database import open_database
    from wickwatch.cli.progress import progress
    from wickwatch.errors import InputError
    from wickwatch.store import fleet as stored_fleet
    from wickwatch.watch.backtest import backtest

    if args.end <= args.start:
        raise InputError("--to", args.end.isoformat(), f"a time after --from {args.start.isoformat()}")
    rules = _rules(args.set)
    found: list[dict[str, object]] = []
    with open_database(settings) as conn:
        sites = [site for site in stored_fleet.facilities(conn) if args.facility in (None, site.slug)]
        if args.facility and not sites:
            known = ", ".join(site.slug for site in stored_fleet.facilities(conn)) or "none yet"
            raise InputError("--facility", args.facility, f"a facility that is there: {known}")
        with progress("backtest, minutes", _minutes(args.end - args.start) * len(sites)) as advance:
            for site in sites:
                told = args.start

                def seen(as_of: datetime) -> None:
                    nonlocal told
                    if as_of - told >= timedelta(minutes=1):
                        advance(_minutes(as_of - told))
                        told = as_of

                found += backtest(conn, site.id, args.start, args.end, rules, seen=seen)
        conn.rollback()
    found.sort(key=lambda alarm: (str(alarm["raised_at"]), str(alarm["id"])))
    if args.json:
        for alarm in found:
            print(json.dumps(alarm, ensure_ascii=False))
    else:
        _print_table(found)
    return 0


def _rules(given: Sequence[str]) -> dict[str, float]:
    """`NAME=VALUE` pairs as rules; raises InputError for one that is none."""
    from wickwatch.errors import InputError
    from wickwatch.fleet import check

    values: dict[str, object] = {}
    for pair in given:
        name, equals, text = pair.partition("=")
        try:
            values[name] = float(text)
        except ValueError:
            raise InputError("--set", pair, "NAME=VALUE with a number, such as dry_limit_mbar=160") from None
        if not equals:
            raise InputError("--set", pair, "NAME=VALUE with a number, such as dry_limit_mbar=160")
    return check(values, "--set")


def _minutes(span: timedelta) -> int:
    return max(1, int(span / timedelta(minutes=1)))


def _print_table(found: Sequence[dict[str, object]]) -> None:
    if not found:
        print("No alarm would have been raised.")
        return
    rows = [[_cell(alarm, column) for column in _COLUMNS] for alarm in found]
    widths = [max(len(row[n]) for row in [list(_COLUMNS), *rows]) for n in range(len(_COLUMNS) - 1)]
    for row in [list(_COLUMNS), *rows]:
        print("  ".join([*(cell.ljust(width) for cell, width in zip(row, widths, strict=False)), row[-1]]))
    called = sum(not alarm["suppressed"] for alarm in found)
    print(f"{len(found)} alarms, {called} of them with a call.")


def _cell(alarm: dict[str, object], column: str) -> str:
    if column == "called":
        return "no" if alarm["suppressed"] else "yes"
    value = alarm["subject"]["name"] if column == "subject" else alarm[column]  # type: ignore[index]
    return "-" if value is None else str(value)
