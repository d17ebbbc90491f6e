"""What the commands' arguments have in common: how a parser is made, and how times, slugs and ids are read.

Not here: any one command's own arguments.
"""

from __future__ import annotations

import argparse
import re
from collections.abc import Callable
from contextvars import ContextVar
from datetime import UTC, datetime
from typing import TYPE_CHECKING
from uuid import UUID

if TYPE_CHECKING:
    from wickwatch.settings import Settings

Run = Callable[[argparse.Namespace, "Settings"], int]
Subparsers = argparse._SubParsersAction  # argparse gives its type no public name

#: The command that runs in this process, as it was typed: "user add".
RUNNING: ContextVar[str] = ContextVar("command", default="")

_RFC3339 = re.compile(r"\d{4}-\d{2}-\d{2}[Tt ]\d{2}:\d{2}:\d{2}(\.\d+)?(?P<zone>[Zz]|[+-]\d{2}:\d{2})?")
_SLUG = re.compile(r"[a-z0-9][a-z0-9-]{0,62}")


def command(
    commands: Subparsers[argparse.ArgumentParser],
    name: str,
    sentence: str,
    run: Run,
    *,
    service: bool = False,
) -> argparse.ArgumentParser:
    """A sub-command's parser; `service` marks those that run until they are stopped, and log as they go."""
    made: argparse.ArgumentParser = commands.add_parser(
        name, help=sentence, description=sentence[0].upper() + sentence[1:] + ".", allow_abbrev=False
    )
    made.set_defaults(run=run, service=service)
    add_debug(made, default=argparse.SUPPRESS)
    return made


def add_debug(parser: argparse.ArgumentParser, default: object) -> None:
    """Let `--debug` stand before or after the sub-command's name."""
    parser.add_argument(
        "--debug",
        action="store_true",
        default=default,
        help="log more, and show where in the program a failure arose",
    )


def add_period(parser: argparse.ArgumentParser) -> None:
    """`--from` (included) and `--to` (not included), read to `args.start` and `args.end`."""
    parser.add_argument("--from", dest="start", metavar="T", type=moment, required=True, help="first moment, RFC 3339")
    parser.add_argument("--to", dest="end", metavar="T", type=moment, required=True, help="end, itself not included")


def moment(text: str) -> datetime:
    """A time as RFC 3339 writes it, in UTC; one without a zone is refused, since it names no one moment."""
    match = _RFC3339.fullmatch(text)
    if match is not None and match["zone"] is None:
        raise argparse.ArgumentTypeError(f"{text!r} has no time zone; write {text}Z for UTC, or {text}+01:00")
    try:
        if match is None:
            raise ValueError
        return datetime.fromisoformat(text.upper().replace(" ", "T")).astimezone(UTC)
    except (ValueError, OverflowError):
        raise argparse.ArgumentTypeError(
            f"{text!r} is not a time as RFC 3339 writes it, such as 2026-11-20T04:12:00Z"
        ) from None


def slug(text: str) -> str:
    """A slug: small letters, digits and hyphens."""
    if not _SLUG.fullmatch(text):
        raise argparse.ArgumentTypeError(
            f"{text!r} is not a slug: up to 63 small letters, digits and hyphens, the first no hyphen"
        )
    return text


def port(text: str) -> int:
    """A TCP port, 1 to 65535."""
    return whole(1, 65535)(text)


def whole(low: int, high: int) -> Callable[[str], int]:
    """Reader of a whole number from `low` to `high`."""

    def read(text: str) -> int:
        if not re.fullmatch(r"\d{1,9}", text) or not low <= int(text) <= high:
            raise argparse.ArgumentTypeError(f"{text!r} is not a whole number from {low} to {high}")
        return int(text)

    return read


def id_of(thing: str) -> Callable[[str], UUID]:
    """Reader of the id of a thing, named with its article as in "the id of a turn"."""

    def read(text: str) -> UUID:
        try:
            return UUID(text)
        except ValueError:
            raise argparse.ArgumentTypeError(f"{text!r} is not the id of {thing}") from None

    return read
