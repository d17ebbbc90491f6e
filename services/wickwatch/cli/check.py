"""`wickwatch check`: looks at settings, database, broker, clock, channels and disk, and prints what it found.

A part is `ok`, is to be looked at (`look`), or `fails`; only a failure makes the exit code 1. Not here: the watch's own
look at itself, which raises alarms (`watch.health`).
"""

from __future__ import annotations

import argparse
import shutil
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Literal

from wickwatch.cli.arguments import Subparsers, command

if TYPE_CHECKING:
    from wickwatch.settings import Settings
    from wickwatch.store.connect import Connection

#: Chosen here. Clocks further apart make readings look late or early; below this room a database soon stops writing.
KEY_LEAST = 16
CLOCK_MOST_S = 5.0
DISK_LEAST_BYTES = 1_000_000_000
BROKER_PATIENCE_S = 5.0

State = Literal["ok", "look", "fails"]


@dataclass(frozen=True)
class Found:
    """What was found of one part."""

    part: str
    state: State
    detail: str


def add_parser(commands: Subparsers[argparse.ArgumentParser]) -> None:
    """Add this command's arguments."""
    command(
        commands,
        "check",
        "looks at settings, database, broker, clock, channel health and disk, and exits 1 if a part fails",
        run,
    )


def run(args: argparse.Namespace, settings: Settings) -> int:
    """Look at each part and print a table."""
    found = [*_settings(settings), *_in_database(settings), _broker(settings), _disk(settings)]
    width = max(len(one.part) for one in found)
    for one in found:
        print(f"{one.part:{width}}  {one.state:5}  {one.detail}")
    return 1 if any(one.state == "fails" for one in found) else 0


def _settings(settings: Settings) -> Iterator[Found]:
    from wickwatch.settings import for_people

    given = [name for name, value in for_people(settings).items() if value]
    yield Found("settings", "ok", ", ".join(name.removeprefix("WICKWATCH_").lower() for name in given))
    if not settings.secret_key:
        yield Found("secret key", "fails", "WICKWATCH_SECRET_KEY is not given; sessions and links can't be signed")
    elif len(settings.secret_key) < KEY_LEAST:
        yield Found("secret key", "look", f"shorter than {KEY_LEAST} characters, which can be guessed")
    if not settings.smtp_url:
        yield Found("mail", "look", "WICKWATCH_SMTP_URL is not given; nobody is called by mail")


def _in_database(settings: Settings) -> Iterator[Found]:
    from wickwatch import store
    from wickwatch.cli.database import database_url
    from wickwatch.errors import WickwatchError
    from wickwatch.store.connect import connect

    if not settings.database_url and not (settings.home / "postgres").exists():
        yield Found("database", "fails", "WICKWATCH_DATABASE_URL is not given, and no embedded server was ever started")
        return
    try:
        with database_url(settings) as url, connect(url, "check", autocommit=True) as conn:
            yield _guarded("database", lambda: _server(conn))
            yield _guarded("clock", lambda: _clock(conn))
            missing = [migration.name for migration in store.pending(url)]
            if missing:
                yield Found("schema", "fails", f"lacks {', '.join(missing)}; run `wickwatch migrate`")
                return
            yield Found("schema", "ok", "as this version needs it")
            yield _guarded("channels", lambda: _channels(conn))
            yield _guarded("quarantine", lambda: _quarantine(conn))
            yield from _parts(conn)
    except WickwatchError as error:
        yield Found("database", "fails", str(error))


def _guarded(part: str, look: Callable[[], Found]) -> Found:
    """What a look found, or the database's complaint."""
    import psycopg

    try:
        return look()
    except psycopg.Error as error:
        return Found(part, "fails", (str(error).strip() or type(error).__name__).splitlines()[0])


def _server(conn: Connection) -> Found:
    from wickwatch.store import timescale

    number = conn.info.server_version
    name = f"PostgreSQL {number // 10000}.{number % 10000}"
    edition = {"apache": ", Apache edition", "timescale": ", Community edition"}.get(timescale.edition(conn), "")
    version = timescale.version(conn)
    with_it = f"TimescaleDB {version}{edition}" if version else "without TimescaleDB"
    return Found("database", "ok", f"{name}, {with_it}")


def _clock(conn: Connection) -> Found:
    from wickwatch.store import checking

    before = datetime.now(UTC)
    there = checking.clock(conn)
    after = datetime.now(UTC)
    off_s = (there - (before + (after - before) / 2)).total_seconds()
    state: State = "ok" if abs(off_s) <= CLOCK_MOST_S else "fails"
    return Found(
        "clock", state, f"the database is {abs(off_s):.1f} s {'ahead of' if off_s > 0 else 'behind'} this machine"
    )


def _channels(conn: Connection) -> Found:
    from wickwatch.store import checking

    found = checking.channels(conn)
    state: State = "ok" if not found.silent and not found.waiting else "look"
    if found.attached and found.silent == found.attached:
        state = "fails"
    return Found(
        "channels", state, f"{found.attached} attached, {found.silent} of them silent; {found.waiting} to attach"
    )


def _quarantine(conn: Connection) -> Found:
    from wickwatch.store import checking

    refused = checking.refused(conn)
    if not refused:
        return Found("quarantine", "ok", "nothing refused in the last 24 hours")
    reasons = ", ".join(f"{reason} {count}" for reason, count in refused.items())
    return Found("quarantine", "look", f"{sum(refused.values())} records refused in the last 24 hours: {reasons}")


def _parts(conn: Connection) -> Iterator[Found]:
    from wickwatch.store import jobs

    beats = jobs.parts(conn)
    for part in jobs.PARTS:
        own = [beat for beat in beats if beat.part == part]
        alive = [beat for beat in own if beat.alive]
        if alive:
            yield Found(part, "ok", f"{len(alive)} running")
        elif own:
            yield Found(
                part, "fails", f"last heard {own[0].age_s:.0f} s ago, {'' if own[0].healthy else 'not '}healthy"
            )
        else:
            yield Found(part, "look", "not running")


def _broker(settings: Settings) -> Found:
    from wickwatch.cli.broker import connects
    from wickwatch.urls import MQTT_SCHEMES, endpoint

    if not settings.mqtt_url:
        return Found("broker", "look", "WICKWATCH_MQTT_URL is not given; only `demo` and `run` bring their own")
    broker = endpoint(settings.mqtt_url, MQTT_SCHEMES)
    why = connects(broker, BROKER_PATIENCE_S)
    where = f"{broker.host}:{broker.port}"
    return (
        Found("broker", "ok", f"{where} takes our sign-in")
        if why is None
        else Found("broker", "fails", f"{where}: {why}")
    )


def _disk(settings: Settings) -> Found:
    folder = settings.home
    while not folder.exists():
        folder = folder.parent
    free = shutil.disk_usage(folder).free
    return Found("disk", "ok" if free >= DISK_LEAST_BYTES else "fails", f"{free / 1e9:.1f} GB free at {folder}")
