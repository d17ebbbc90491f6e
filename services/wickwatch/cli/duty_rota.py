"""What a rota is made of besides turns by date, as sub-commands of `wickwatch duty`: weekly turns, holidays and so on.

Not here: turns by date and contacts (`duty`), or who is called (`duty_now`).
"""

from __future__ import annotations

import argparse
from datetime import UTC, date, datetime, time
from typing import TYPE_CHECKING

from wickwatch.cli.arguments import Subparsers, command, id_of, slug, whole

if TYPE_CHECKING:
    from wickwatch.settings import Settings
    from wickwatch.store.connect import Connection


def add_parser(actions: Subparsers[argparse.ArgumentParser]) -> None:
    """Add these sub-commands' arguments."""
    weekly = command(actions, "weekly", "lets people follow one another, week by week, from a day on", run)
    weekly.add_argument("names", metavar="NAME", nargs="+", help="in the order of their turns")
    weekly.add_argument(
        "--from", dest="day", metavar="DAY", type=_day, required=True, help="first hand-over, 2026-11-23"
    )
    weekly.add_argument("--at", metavar="HH:MM", type=_clock, default=time(8), help="hand-over, facility time (08:00)")
    weekly.add_argument("--days", type=whole(1, 56), default=7, metavar="N", help="length of a turn (%(default)s)")
    weekly.add_argument("--holidays", action="store_true", help="on public holidays only, standing in for the others")

    end = command(actions, "end", "ends weekly turns today, or takes away those that have not begun", run)
    end.add_argument("turns", metavar="TURNS", type=id_of("weekly turns"), help="as `wickwatch duty list` shows them")

    answer = command(actions, "answer", "sets how long a step has to answer before the next is called", run)
    answer.add_argument("minutes", metavar="MINUTES", type=whole(1, 1440))
    for one in (weekly, answer):
        one.add_argument("--step", type=whole(1, 9), default=1, metavar="N", help="1 is called first (%(default)s)")

    holidays = command(actions, "holidays", "sets whose public holidays a facility keeps", run)
    holidays.add_argument("country", metavar="COUNTRY", help="two letters of ISO 3166-1, or none")
    holidays.add_argument("--part", metavar="CODE", help="of the country, by ISO 3166-2")

    quiet = command(actions, "quiet", "sets when a person is spared calls of low priority", run)
    quiet.add_argument("name", metavar="NAME")
    quiet.add_argument("--from", dest="starts", metavar="HH:MM", type=_clock, help="beginning; without it: none")
    quiet.add_argument("--to", dest="ends", metavar="HH:MM", type=_clock, help="end, both facility time")

    calendar = command(actions, "calendar", "makes a secret address at which a calendar reads the rota", run)
    calendar.add_argument("name", metavar="NAME", help="whose turns; the address ends when they are disabled")
    calendar.add_argument("--everybody", action="store_true", help="everybody's turns, not only theirs")
    for one in (weekly, end, answer, holidays, calendar):
        one.add_argument("--facility", type=slug, metavar="F", help="its slug; needed where there are several")


def run(args: argparse.Namespace, settings: Settings) -> int:
    """Do one of the sub-commands, in one transaction."""
    from wickwatch.cli.database import open_database

    with open_database(settings) as conn, conn.transaction():
        print(_calendar(args, conn, settings) if args.action == "calendar" else _ACTIONS[args.action](args, conn))
    return 0


def _weekly(args: argparse.Namespace, conn: Connection) -> str:
    from wickwatch.store import people, rota_plan
    from wickwatch.store.fleet import facility_by_slug

    site = facility_by_slug(conn, args.facility)
    ids = [people.person_named(conn, name) for name in args.names]
    rota_plan.add_pattern(conn, site.id, args.step, ids, args.day, args.at, args.days, on_holidays=args.holidays)
    return f"{', then '.join(args.names)} at step {args.step} for {site.slug}, from {args.day} {args.at:%H:%M}"


def _end(args: argparse.Namespace, conn: Connection) -> str:
    from wickwatch.store import rota_plan
    from wickwatch.store.fleet import facility_by_slug

    site = facility_by_slug(conn, args.facility)
    rota_plan.end_pattern(conn, site.id, args.turns, datetime.now(rota_plan.zone_of(conn, site.id)).date())
    return "the weekly turns end today"


def _answer(args: argparse.Namespace, conn: Connection) -> str:
    from wickwatch.store import rota_plan
    from wickwatch.store.fleet import facility_by_slug

    site = facility_by_slug(conn, args.facility)
    rota_plan.set_answer_within(conn, site.id, args.step, args.minutes)
    return f"step {args.step} of {site.slug} has {args.minutes} min to answer"


def _holidays(args: argparse.Namespace, conn: Connection) -> str:
    from wickwatch.store import rota_plan
    from wickwatch.store.fleet import facility_by_slug

    site = facility_by_slug(conn, args.facility)
    country = None if args.country == "none" else args.country.upper()
    rota_plan.keep_holidays(conn, site.id, country, args.part.upper() if args.part else None)
    return f"{site.slug} keeps {f'the holidays of {country}' if country else 'no holidays'}"


def _quiet(args: argparse.Namespace, conn: Connection) -> str:
    from wickwatch.errors import InputError
    from wickwatch.store import people, quiet_hours
    from wickwatch.store.quiet_hours import QuietHours

    if (args.starts is None) != (args.ends is None):
        raise InputError("quiet hours", "one end", "--from and --to, or neither")
    hours = None if args.starts is None else QuietHours(args.starts, args.ends)
    quiet_hours.set_hours(conn, people.person_named(conn, args.name), hours)
    return f"{args.name} has {f'quiet hours {args.starts:%H:%M} to {args.ends:%H:%M}' if hours else 'no quiet hours'}"


def _calendar(args: argparse.Namespace, conn: Connection, settings: Settings) -> str:
    from wickwatch.store import people, rota_feed
    from wickwatch.store.fleet import facility_by_slug

    site = facility_by_slug(conn, args.facility)
    person = people.person_named(conn, args.name)
    secret = rota_feed.add(conn, site.id, None if args.everybody else person, person, datetime.now(UTC))
    return f"{settings.base_url.rstrip('/')}/rota/{secret}.ics"


_ACTIONS = {"weekly": _weekly, "end": _end, "answer": _answer, "holidays": _holidays, "quiet": _quiet}


def _day(text: str) -> date:
    try:
        day = date.fromisoformat(text)
    except ValueError:
        day = date.min
    if not 2000 <= day.year < 2200:
        raise argparse.ArgumentTypeError(f"{text!r} is not a day such as 2026-11-23")
    return day


def _clock(text: str) -> time:
    try:
        return datetime.strptime(text, "%H:%M").time()
    except ValueError:
        raise argparse.ArgumentTypeError(f"{text!r} is not a time of day such as 08:00") from None
