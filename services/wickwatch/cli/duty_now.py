"""`wickwatch duty now`: who is called at a moment, in which order, and for one alarm. Not here: the turns (`duty`)."""

from __future__ import annotations

import argparse
from datetime import UTC, datetime
from typing import TYPE_CHECKING
from uuid import UUID
from zoneinfo import ZoneInfo

from wickwatch.cli.arguments import Subparsers, command, id_of, moment, slug

if TYPE_CHECKING:
    from wickwatch.alarms.rota_calls import WouldCall
    from wickwatch.settings import Settings
    from wickwatch.store.connect import Connection


def add_parser(actions: Subparsers[argparse.ArgumentParser]) -> None:
    """Add this sub-command's arguments."""
    made = command(actions, "now", "shows who is called now, in which order, and for one alarm", run)
    made.add_argument("--at", metavar="T", type=moment, help="at this moment by the rota as it is now, RFC 3339")
    made.add_argument("--alarm", metavar="ID", type=id_of("an alarm"), help="for this alarm, or why nobody is")
    made.add_argument("--facility", type=slug, metavar="F", help="only of this facility, by its slug")


def run(args: argparse.Namespace, settings: Settings) -> int:
    """Print who is called, facility by facility."""
    from wickwatch.cli.database import open_database

    with open_database(settings) as conn:
        show(conn, args.facility, args.at or datetime.now(UTC), args.alarm)
    return 0


def show(conn: Connection, facility: str | None, at: datetime, alarm_id: UUID | None = None) -> None:
    """Print who is called at a moment; for one alarm where its id is given. Raises InputError."""
    from wickwatch.alarms.rota_calls import would_call
    from wickwatch.store import alarms, rota
    from wickwatch.store.fleet import facilities, facility_by_slug

    sites = [facility_by_slug(conn, facility)] if facility else facilities(conn)
    if alarm_id is not None:
        alarm, _ = alarms.one(conn, alarm_id, [site.id for site in sites])
        site = next(site for site in sites if site.id == alarm.facility_id)
        print(alarm.message)
        _print(would_call(rota.on_duty(conn, site.id, at), alarm.priority, alarm.state), ZoneInfo(site.zone))
        return
    for site in sites:
        duty = rota.on_duty(conn, site.id, at)
        stand_in = " (nobody on duty can be reached, so managers are called)" if duty.fallback and duty.people else ""
        print(f"{site.slug}, {at.astimezone(ZoneInfo(site.zone)):%Y-%m-%d %H:%M %Z}{stand_in}")
        _print(would_call(duty, "high"), ZoneInfo(site.zone))


def _print(found: WouldCall, zone: ZoneInfo) -> None:
    from wickwatch.alarms.words import lasting

    if found.nobody_because:
        print(f"  nobody is called: {found.nobody_because}")
    if found.held_until:
        print(f"  the first call leaves at {found.held_until.astimezone(zone):%H:%M}, when quiet hours are over")
    for rung in found.rungs:
        when = f"after {lasting(rung.after)}" if rung.after else "at once"
        people = [f"{each.name} by {', '.join(contact.way for contact in each.contacts)}" for each in rung.people]
        people += [f"{each.name} once quiet hours are over" for each in rung.spared]
        print(f"  {when:<16}{'; '.join(people)}")
