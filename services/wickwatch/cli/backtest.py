"""`wickwatch backtest`: the alarms that the detectors would have raised over stored history; changes nothing.

Not here: how their measures are printed (`backtest_measures`).
"""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Callable, Mapping, Sequence
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from wickwatch.cli.arguments import Subparsers, add_period, command, slug
from wickwatch.cli.backtest_measures import Measured, as_json, print_measures

if TYPE_CHECKING:
    from wickwatch.alarms.measures import Measures
    from wickwatch.settings import Settings
    from wickwatch.store.connect import Connection
    from wickwatch.store.fleet import Site

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
    made.add_argument("--measures", action="store_true", help="only how the alarms would have served, not the alarms")
    made.add_argument("--json", action="store_true", help="JSON Lines, one alarm each; or one facility's measures each")


def run(args: argparse.Namespace, settings: Settings) -> int:
    """Replay each facility, as its rules are set for this run; print its alarms, oldest first, and their measures."""
    from wickwatch.cli.database import open_database
    from wickwatch.cli.progress import progress
    from wickwatch.errors import InputError
    from wickwatch.store import fleet as stored_fleet
    from wickwatch.store.fleet_history import first_attached

    if args.end <= args.start:
        raise InputError("--to", args.end.isoformat(), f"a time after --from {args.start.isoformat()}")
    rules = _rules(args.set)
    measured = args.measures or not args.json
    found: list[dict[str, object]] = []
    facilities: list[Measured] = []
    with open_database(settings) as conn:
        sites = [site for site in stored_fleet.facilities(conn) if args.facility in (None, site.slug)]
        if args.facility and not sites:
            known = ", ".join(site.slug for site in stored_fleet.facilities(conn)) or "none yet"
            raise InputError("--facility", args.facility, f"a facility that is there: {known}")
        for site in sites:
            since = first_attached(conn, site.id)
            if since is None or since >= args.end:
                when = "yet" if since is None else f"before {since.isoformat()}"
                print(f"{site.slug}: no channel was attached to anything {when}, so nothing is judged", file=sys.stderr)
        times = 2 if measured and rules else 1
        with progress("backtest, minutes", _minutes(args.end - args.start) * len(sites) * times) as advance:
            for site in sites:
                alarms, told = _replayed(conn, site, args, rules, advance)
                found += alarms
                if measured:
                    before = _replayed(conn, site, args, {}, advance)[1] if rules else None
                    facilities.append(Measured(site.slug, told, before))
        conn.rollback()
    found.sort(key=lambda alarm: (str(alarm["raised_at"]), str(alarm["id"])))
    if args.json:
        for line in as_json(facilities, args.set) if args.measures else found:
            print(json.dumps(line, ensure_ascii=False))
    else:
        if not args.measures:
            _print_table(found)
        print_measures(facilities, args.set)
    return 0


def _replayed(
    conn: Connection, site: Site, args: argparse.Namespace, rules: Mapping[str, float], advance: Callable[[int], None]
) -> tuple[list[dict[str, object]], Measures]:
    """A facility's alarms under some rules, and their measures."""
    from zoneinfo import ZoneInfo

    from wickwatch.alarms import JournalEntry
    from wickwatch.alarms.measures import measure
    from wickwatch.alarms.measures_frame import calls_frame, journal_frame
    from wickwatch.watch.backtest import backtest

    told = args.start
    journal: list[JournalEntry] = []

    def seen(as_of: datetime) -> None:
        nonlocal told
        if as_of - told >= timedelta(minutes=1):
            advance(_minutes(as_of - told))
            told = as_of

    found = backtest(conn, site.id, args.start, args.end, rules, seen=seen, happened=journal.extend)
    return found, measure(journal_frame(journal), calls_frame([]), args.start, args.end, ZoneInfo(site.zone))


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
