"""`wickwatch duty test`: sends a test over every way a person is reached, and says how each went.

The test goes the way of any call, through a `notify` that runs somewhere. Not here: sending.
"""

from __future__ import annotations

import argparse
import time
from datetime import UTC, datetime
from typing import TYPE_CHECKING
from uuid import UUID

from wickwatch.cli.arguments import Subparsers, command, whole

if TYPE_CHECKING:
    from wickwatch.settings import Settings
    from wickwatch.store.connect import Connection

#: How often it is looked whether a test has left [s].
_LOOK_S = 0.2


def add_parser(actions: Subparsers[argparse.ArgumentParser]) -> None:
    """Add this command's arguments."""
    made = command(actions, "test", "sends a test over each way a person is reached; `notify` must run", run)
    made.add_argument("name", metavar="NAME")
    made.add_argument("--address", metavar="ADDRESS", help="only this one, a mail address or URL")
    made.add_argument(
        "--wait", type=whole(1, 600), default=60, metavar="S", help="seconds to wait for a result (%(default)s)"
    )


def run(args: argparse.Namespace, settings: Settings) -> int:
    """Queue the tests and wait for what becomes of them; 1 where one did not get through."""
    from wickwatch.cli.database import open_database
    from wickwatch.errors import InputError
    from wickwatch.store import contacts, people, trial

    with open_database(settings) as conn:
        with conn.transaction():
            person_id = people.person_named(conn, args.name)
            chosen = [each for each in contacts.of_person(conn, person_id) if args.address in (None, each.address)]
            if not chosen:
                raise InputError(f"address of {args.name}", args.address or "", "one that `wickwatch duty reach` added")
            now = datetime.now(UTC)
            sent = {
                trial.send(conn, person_id, args.name, each.id, settings.base_url, now): f"{each.way} "
                + contacts.shown(each.way, each.address)
                for each in chosen
            }
        return _report(conn, sent, time.monotonic() + args.wait)


def _report(conn: Connection, sent: dict[UUID, str], until: float) -> int:
    """Print each result as it comes."""
    from wickwatch.store import trial

    waiting, failed = dict(sent), False
    while waiting:
        over = time.monotonic() >= until
        for id, where in list(waiting.items()):
            with conn.transaction():
                state, detail = trial.result(conn, id)
            if state == "sent":
                print(f"{where}: {detail}")
            elif state != "queued":
                print(f"{where}: could not be sent: {detail or 'its time was over'}")
                failed = True
            elif over:
                print(f"{where}: not sent yet{f': {detail}' if detail else '; does `wickwatch notify` run?'}")
                failed = True
            else:
                continue
            del waiting[id]
        if waiting:
            time.sleep(_LOOK_S)
    return 1 if failed else 0
