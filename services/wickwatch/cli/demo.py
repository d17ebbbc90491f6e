"""`wickwatch demo`: everything on one machine with nothing else installed, on a simulated fleet."""

from __future__ import annotations

import argparse
import sys
from typing import TYPE_CHECKING

from wickwatch.cli.arguments import Subparsers, command, port, whole

if TYPE_CHECKING:
    from pathlib import Path

    from wickwatch.cli.demo_state import DemoState
    from wickwatch.settings import Settings

SIGN_IN = "demo"
_ON_CALL = "Grower on duty"
_ON_CALL_ADDRESS = "on-duty@wickwatch.example"


def add_parser(commands: Subparsers[argparse.ArgumentParser]) -> None:
    """Add this command's arguments."""
    made = command(
        commands,
        "demo",
        "everything on one machine with nothing else installed, on a simulated fleet; Ctrl-C stops it, "
        "a second start resumes",
        run,
    )
    made.add_argument("--rooms", type=whole(1, 2000), default=12, metavar="N", help="rooms to simulate (%(default)s)")
    made.add_argument("--days", type=whole(1, 400), default=21, metavar="D", help="days of history (%(default)s)")
    made.add_argument("--seed", type=whole(0, 999_999_999), default=1, metavar="S", help="seed of all that is random")
    made.add_argument("--port", type=port, default=8000, metavar="P", help="port of the pages (%(default)s)")
    made.add_argument("--no-faults", action="store_true", help="a fleet in which nothing goes wrong")


def run(args: argparse.Namespace, settings: Settings) -> int:
    """Start everything, say where it is, and stop it all at the end, whatever happens."""
    from datetime import UTC, datetime

    from wickwatch.cli import demo_state, home
    from wickwatch.cli.everything import START_S, everything
    from wickwatch.cli.processes import Part, Tree, stopping
    from wickwatch.embedded import Mailbox
    from wickwatch.embedded.ports import must_be_free

    must_be_free(args.port, "--port")
    with stopping() as stop, home.held(settings.home) as folder:
        options = (args.rooms, args.days, args.seed, not args.no_faults)
        state = demo_state.begin_or_resume(folder, *options, datetime.now(UTC))
        address = f"http://127.0.0.1:{args.port}"
        own = {"secret_key": settings.secret_key or state.secret_key, "base_url": address}
        mailbox = Mailbox(folder)
        _say("Starting the database and the broker.")
        with everything(Tree(), settings.model_copy(update=own), folder) as parts:
            running = parts
            if not settings.smtp_url:
                mailbox.start()
                parts.tree.watch("the embedded mail server", mailbox.process, mailbox.log)
                running = parts.with_settings(smtp_url=mailbox.url)
            if not state.loaded:
                _begin(running.settings.database_url, folder, state)
            running.services("ingest", "notify", "watch")
            command_line = [sys.executable, "-m", "wickwatch.cli.demo_fleet", str(folder), running.settings.mqtt_url]
            running.start(Part("the simulator", command_line, folder / "log" / "simulator.log"))
            running.web("127.0.0.1", args.port, stop)
            running.tree.wait_for(
                lambda: _judged(running.settings.database_url), "the first look at the rooms", START_S, stop
            )
            if not stop.is_set():
                running.services("reporter")  # last: what it makes at once, of weeks past, holds nobody up
                _ready(address, state, folder)
            running.tree.wait(stop)
            _say("Stopping.")
    return 0


def _begin(database_url: str, folder: Path, state: DemoState) -> None:
    """The first start: facilities with their history, who signs in, and who is called."""
    from wickwatch.cli import demo_state
    from wickwatch.cli.demo_fleet import load_history
    from wickwatch.cli.progress import progress
    from wickwatch.store import contacts, people, rota
    from wickwatch.store.connect import connect
    from wickwatch.store.fleet import facilities

    _say(f"Simulating {state.rooms} rooms and {state.days} days of history.")
    with connect(database_url, "demo", autocommit=True) as conn:
        with progress("readings", None) as advance:
            count = load_history(conn, folder, state, advance)
        _say(f"{count:,} readings are stored.")
        with conn.transaction():
            if not any(person.name == SIGN_IN for person in people.everyone(conn)):
                people.add_person(conn, SIGN_IN, "administrator", None, state.password)
                on_call = people.add_person(conn, _ON_CALL, "grower", None, None)
                contacts.add(conn, on_call, "email", _ON_CALL_ADDRESS)
                for facility in facilities(conn):
                    rota.add_turn(conn, facility.id, 1, on_call, state.end, None)
    demo_state.loaded(folder, state)


def _judged(database_url: str) -> bool:
    """Whether every facility has been looked at since its readings are there."""
    from wickwatch import watch
    from wickwatch.store.connect import connect

    with connect(database_url, "demo", autocommit=True) as conn:
        return watch.judged(conn)


def _ready(address: str, state: DemoState, folder: Path) -> None:
    _say("")
    _say(f"  Open     {address}")
    _say(f"  Sign in  {SIGN_IN}  with password  {state.password}")
    _say("")
    _say(f"Mail that would go out is kept in {folder / 'mail'}; logs are in {folder / 'log'}.")
    _say("Ctrl-C stops all of it; the same command goes on from there.")


def _say(sentence: str) -> None:
    print(sentence, flush=True)
