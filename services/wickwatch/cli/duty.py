"""`wickwatch duty`: who is called, how they are reached, and when it is their turn.

Not here: weekly turns, holidays and quiet hours (`duty_rota`), who is called in which order (`duty_now`), the rules of
the rota (`store.rota`), nor who may sign in (`user`).
"""

from __future__ import annotations

import argparse
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

from wickwatch.cli import duty_now, duty_rota, duty_test
from wickwatch.cli.arguments import Subparsers, command, id_of, moment, slug, whole

if TYPE_CHECKING:
    from wickwatch.settings import Settings
    from wickwatch.store.connect import Connection

_AHEAD = timedelta(days=14)


def add_parser(commands: Subparsers[argparse.ArgumentParser]) -> None:
    """Add this command's arguments, and those of its sub-commands."""
    made = command(commands, "duty", "who is called, how they are reached, and when it is their turn", run)
    actions = made.add_subparsers(dest="action", metavar="now|reach|forget|test|add|remove|list|…")
    duty_now.add_parser(actions)

    reach = command(actions, "reach", "adds a way to reach a person, tried after those they have", run)
    reach.add_argument("name", metavar="NAME")
    way = reach.add_mutually_exclusive_group(required=True)
    way.add_argument("--email", metavar="ADDRESS", help="a mail address")
    way.add_argument("--webhook", metavar="URL", help="prints the secret its messages are signed with, once")
    way.add_argument("--service", metavar="URL", help="any other service, such as jsons://example.org/calls")

    forget = command(actions, "forget", "no longer uses a way to reach a person", run)
    forget.add_argument("name", metavar="NAME")
    forget.add_argument("address", metavar="ADDRESS", help="the mail address or URL")

    duty_test.add_parser(actions)

    add = command(actions, "add", "puts a person on the rota of a facility", run)
    add.add_argument("name", metavar="NAME")
    add.add_argument("--from", dest="start", metavar="T", type=moment, help="beginning, RFC 3339 (now)")
    add.add_argument("--to", dest="end", metavar="T", type=moment, help="end, itself not included (until removed)")
    add.add_argument(
        "--step", type=whole(1, 9), default=1, metavar="N", help="1 is called first, 2 after that (%(default)s)"
    )

    remove = command(actions, "remove", "takes a turn off the rota", run)
    remove.add_argument("turn", metavar="TURN", type=id_of("a turn"), help="as `wickwatch duty list` shows it")

    duty_rota.add_parser(actions)

    shown = command(actions, "list", "shows who is called now, and the turns of the next two weeks", run)
    for one in (add, remove, shown):
        one.add_argument("--facility", type=slug, metavar="F", help="its slug; needed where there are several")


def run(args: argparse.Namespace, settings: Settings) -> int:
    """Do one of the sub-commands, in one transaction; without one, show who is called now."""
    from wickwatch.cli.database import open_database

    with open_database(settings) as conn, conn.transaction():
        if args.action is None:
            duty_now.show(conn, None, datetime.now(UTC))
            return 0
        _ACTIONS[args.action](args, conn)
    return 0


def _reach(args: argparse.Namespace, conn: Connection) -> None:
    from wickwatch.store import contacts, people

    person = people.person_named(conn, args.name)
    if args.email:
        contacts.add(conn, person, "email", args.email)
        print(f"{args.name} is reached at {args.email}")
    elif args.service:
        from wickwatch.notify import services

        services.check(args.service)
        contacts.add(conn, person, "service", args.service)
        print(f"{args.name} is reached at {contacts.shown('service', args.service)}")
    else:
        secret = contacts.new_secret()
        contacts.add(conn, person, "webhook", args.webhook, secret)
        print(f"{args.name} is reached at {args.webhook}\nsigned with {secret}")


def _forget(args: argparse.Namespace, conn: Connection) -> None:
    from wickwatch.errors import InputError
    from wickwatch.store import contacts, people

    person = people.person_named(conn, args.name)
    known = contacts.of_person(conn, person)
    found = [contact for contact in known if contact.address == args.address]
    if not found:
        accepted = ", ".join(contact.address for contact in known) or "nothing, since nothing is known"
        raise InputError(f"address of {args.name}", args.address, accepted)
    for contact in found:
        contacts.remove(conn, person, contact.id, datetime.now(UTC))
    print(f"{args.name} is no longer reached at {args.address}")


def _add(args: argparse.Namespace, conn: Connection) -> None:
    from wickwatch.store import contacts, people, rota
    from wickwatch.store.fleet import facility_by_slug

    site = facility_by_slug(conn, args.facility)
    person = people.person_named(conn, args.name)
    start = args.start or datetime.now(UTC)
    rota.add_turn(conn, site.id, args.step, person, start, args.end)
    print(f"{args.name} is on duty for {site.slug} from {start.isoformat(timespec='seconds')}")
    if not contacts.of_person(conn, person):
        print(f"but can't be reached: `wickwatch duty reach {args.name!r} --email ADDRESS` adds a way")


def _remove(args: argparse.Namespace, conn: Connection) -> None:
    from wickwatch.store import rota
    from wickwatch.store.fleet import facility_by_slug

    rota.remove_turn(conn, facility_by_slug(conn, args.facility).id, args.turn)
    print("the turn is off the rota")


def _list(args: argparse.Namespace, conn: Connection) -> None:
    from wickwatch.store import people, rota, rota_plan
    from wickwatch.store.fleet import facilities, facility_by_slug

    now = datetime.now(UTC)
    sites = [facility_by_slug(conn, args.facility)] if args.facility else facilities(conn)
    names = {person.id: person.name for person in people.everyone(conn)}
    for site in sites:
        duty = rota.on_duty(conn, site.id, now)
        called = ", ".join(person.name for person in duty.people if person.contacts) or "nobody can be reached"
        print(
            f"{site.slug}: {called}{' (no turn now, so managers are called)' if duty.fallback and duty.people else ''}"
        )
        for each in rota_plan.load(conn, site.id, now, now).patterns:
            round_ = " → ".join(names[person] for person in each.people)
            until = f" until {each.ends_on}" if each.ends_on else ""
            which = "holidays" if each.on_holidays else f"every {each.turn_days} days"
            print(
                f"  step {each.step}  {which} from {each.starts_on} {each.hand_over:%H:%M}{until}  {round_}  {each.id}"
            )
        for turn in rota.turns(conn, site.id, now, now + _AHEAD):
            end = turn.end.isoformat(timespec="minutes") if turn.end else "removed"
            print(f"  step {turn.step}  {turn.start.isoformat(timespec='minutes')} until {end}  {turn.name}  {turn.id}")


_ACTIONS = {"reach": _reach, "forget": _forget, "add": _add, "remove": _remove, "list": _list}
