"""`wickwatch user`: people who may sign in, and tokens for programs.

Not here: what a role may do, nor how passwords are kept (`store.people`).
"""

from __future__ import annotations

import argparse
import getpass
import secrets
import sys
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

from wickwatch.cli.arguments import Subparsers, command, id_of, slug, whole

if TYPE_CHECKING:
    from wickwatch.settings import Settings
    from wickwatch.store.connect import Connection

#: As in `store.people` and `store.access`, which take too long to load for a help text; a test compares them.
ROLES = ("viewer", "grower", "manager", "administrator")
SCOPES = ("read", "write", "admin")

_HOW = "without a terminal, the first line of standard input is the password"


def add_parser(commands: Subparsers[argparse.ArgumentParser]) -> None:
    """Add this command's arguments, and those of its sub-commands."""
    made = command(commands, "user", "people who may sign in, and tokens for programs", run)
    actions = made.add_subparsers(dest="action", metavar="add|list|disable|password|address|token|…", required=True)

    add = command(actions, "add", f"adds a person; {_HOW}", run)
    add.add_argument("name", metavar="NAME")
    add.add_argument("--role", required=True, choices=ROLES, help="each may do what those before it may")
    add.add_argument(
        "--facility", type=slug, action="append", metavar="F", help="only in this facility (may be repeated; all)"
    )
    add.add_argument("--generate", action="store_true", help="make up a password and print it")

    command(actions, "list", "lists people with their roles", run)

    disable = command(actions, "disable", "closes a person's account: no sign-in and no token works any longer", run)
    disable.add_argument("name", metavar="NAME")

    password = command(actions, "password", f"replaces a password and ends the person's sessions; {_HOW}", run)
    password.add_argument("name", metavar="NAME")
    password.add_argument("--generate", action="store_true", help="make up a password and print it")

    token = command(actions, "token", "makes a token for a program, which acts as this person, and prints it once", run)
    token.add_argument("name", metavar="NAME")
    token.add_argument("--label", required=True, help="what it is for")
    token.add_argument("--scope", choices=SCOPES, default="admin", help="what it is for; admin: all the person may")
    token.add_argument("--days", type=whole(1, 3650), metavar="D", help="how long it counts (until it is revoked)")

    tokens = command(actions, "tokens", "lists a person's tokens, with when each was last used", run)
    tokens.add_argument("name", metavar="NAME")

    revoke = command(actions, "revoke", "ends a token at once", run)
    revoke.add_argument("name", metavar="NAME")
    revoke.add_argument("token", metavar="TOKEN", type=id_of("a token"), help="as `wickwatch user tokens` shows it")

    address = command(actions, "address", "says by which mail address a provider of sign-ins knows a person", run)
    address.add_argument("name", metavar="NAME")
    address.add_argument("address", metavar="ADDRESS", nargs="?", help="without one: by none any longer")


def run(args: argparse.Namespace, settings: Settings) -> int:
    """Do one of the sub-commands, in one transaction."""
    from wickwatch.cli.database import open_database

    with open_database(settings) as conn, conn.transaction():
        _ACTIONS[args.action](args, conn)
    return 0


def _add(args: argparse.Namespace, conn: Connection) -> None:
    from wickwatch.store import people

    password = _given_password(args.generate)
    people.add_person(conn, args.name, args.role, args.facility, password)
    print(f"{args.name} may sign in as {args.role}")


def _list(args: argparse.Namespace, conn: Connection) -> None:
    from wickwatch.store import people

    for person in people.everyone(conn):
        roles = ", ".join(f"{one.role} in {one.facility or 'all facilities'}" for one in person.memberships)
        closed = "" if person.disabled_at is None else f", disabled {person.disabled_at:%Y-%m-%d}"
        print(f"{person.name}: {roles or 'no role'}{closed}")


def _disable(args: argparse.Namespace, conn: Connection) -> None:
    from wickwatch.store import people

    people.disable(conn, args.name, datetime.now(UTC))
    print(f"{args.name} can't sign in any longer")


def _password(args: argparse.Namespace, conn: Connection) -> None:
    from wickwatch.store import people

    people.set_password(conn, args.name, _given_password(args.generate))
    print(f"the password of {args.name} is replaced")


def _token(args: argparse.Namespace, conn: Connection) -> None:
    from wickwatch.store import tokens

    expires = None if args.days is None else datetime.now(UTC) + timedelta(days=args.days)
    print(tokens.new_token(conn, args.name, args.label, expires, args.scope))


def _tokens(args: argparse.Namespace, conn: Connection) -> None:
    from wickwatch.store import people, tokens

    for token in tokens.tokens(conn, people.person_named(conn, args.name)):
        until = "without an end" if token.expires_at is None else f"until {token.expires_at:%Y-%m-%d}"
        used = "never used" if token.used_at is None else f"last used {token.used_at:%Y-%m-%d %H:%M} UTC"
        print(f"{token.id}  {token.label}: {token.scope}, made {token.created_at:%Y-%m-%d}, {until}, {used}")


def _revoke(args: argparse.Namespace, conn: Connection) -> None:
    from wickwatch.errors import InputError
    from wickwatch.store import people, tokens

    if not tokens.revoke_token(conn, people.person_named(conn, args.name), args.token, datetime.now(UTC)):
        raise InputError("token", str(args.token), f"the id of a token of {args.name} that still counts")
    print("the token has ended")


def _address(args: argparse.Namespace, conn: Connection) -> None:
    from wickwatch.store import people

    people.set_sign_in_address(conn, args.name, args.address)
    print(f"{args.name} signs in by {args.address}" if args.address else f"{args.name} signs in by no provider")


_ACTIONS = {
    "add": _add,
    "list": _list,
    "disable": _disable,
    "password": _password,
    "token": _token,
    "tokens": _tokens,
    "revoke": _revoke,
    "address": _address,
}


def _given_password(generate: bool) -> str:
    """A password made up and printed, asked for, or read from standard input."""
    from wickwatch.errors import RefusedError

    if generate:
        made = secrets.token_urlsafe(12)
        print(f"password: {made}")
        return made
    if sys.stdin.isatty():
        first = getpass.getpass("Password: ")
        if getpass.getpass("Again: ") != first:
            raise RefusedError("the two passwords differ; nothing was changed")
        return first
    line = sys.stdin.readline().rstrip("\r\n")
    if not line:
        raise RefusedError("no password on standard input; give one as its first line, or --generate one")
    return line
