"""From a command line to an exit code: 0 done, 1 failed with one sentence, 2 bad usage.

Not here: what any command does. A command's module imports only `argparse` and its like when it is loaded, and what
it works with when it runs, so that `--help` answers at once.
"""

from __future__ import annotations

import argparse
import logging
import os
import sys
import traceback
from collections.abc import Sequence

from wickwatch import __version__, log
from wickwatch.cli import (
    backtest,
    check,
    demo,
    duty,
    export,
    fleet,
    import_readings,
    ingest,
    migrate,
    notify,
    report,
    reporter,
    run,
    user,
    watch,
    web,
)
from wickwatch.cli.arguments import RUNNING, add_debug
from wickwatch.errors import WickwatchError

#: Every sub-command, in the order that help shows them.
COMMANDS = (
    demo,
    run,
    ingest,
    watch,
    notify,
    web,
    reporter,
    migrate,
    check,
    fleet,
    import_readings,
    export,
    backtest,
    report,
    user,
    duty,
)


def parser() -> argparse.ArgumentParser:
    """The whole command line, with a parser for each sub-command."""
    root = argparse.ArgumentParser(
        prog="wickwatch",
        description="Watches gravity-fed, tension-actuated irrigation in grow rooms and calls the person on duty.",
        epilog="Settings come from WICKWATCH_ variables or the file named by WICKWATCH_CONFIG.",
        allow_abbrev=False,
    )
    root.add_argument("--version", action="version", version=f"wickwatch {__version__}")
    add_debug(root, default=False)
    commands = root.add_subparsers(dest="command", metavar="COMMAND", required=True)
    for module in COMMANDS:
        module.add_parser(commands)
    return root


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command; returns its exit code and never raises for what a person can mend."""
    try:
        args = parser().parse_args(argv)
    except SystemExit as stop:  # argparse's way to say that help was shown (0) or usage was bad (2)
        return stop.code if isinstance(stop.code, int) else 2
    RUNNING.set(" ".join(filter(None, (args.command, getattr(args, "action", None)))))
    quiet = sys.stderr.isatty() and not getattr(args, "service", False)
    log.to_stream(sys.stderr, logging.DEBUG if args.debug else logging.WARNING if quiet else logging.INFO)
    try:
        from wickwatch.settings import load

        code: int = args.run(args, load())
        sys.stdout.flush()
        return code
    except BrokenPipeError:
        # Whoever read our output has seen enough; the interpreter must not try to flush the rest.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 1
    except (Exception, KeyboardInterrupt) as error:
        if args.debug:
            traceback.print_exc()
        print(f"wickwatch {args.command}: {_sentence(error)}", file=sys.stderr)
        return 1


def _sentence(error: BaseException) -> str:
    """One sentence for whoever ran the command."""
    if isinstance(error, WickwatchError):
        return str(error)
    if isinstance(error, KeyboardInterrupt):
        return "interrupted"
    if isinstance(error, OSError):
        return f"{error.filename}: {error.strerror}" if error.filename else error.strerror or str(error)
    first = (str(error).strip() or type(error).__name__).splitlines()[0]
    # psycopg is looked at only where a command has loaded it: it costs a tenth of a second.
    psycopg = sys.modules.get("psycopg")
    if psycopg is not None and isinstance(error, psycopg.errors.UndefinedTable | psycopg.errors.UndefinedColumn):
        return f"the database does not have this version's schema ({first}); run `wickwatch migrate`"
    if psycopg is not None and isinstance(error, psycopg.Error):
        return f"the database refused: {first}"
    return f"a fault of the program, {type(error).__name__}: {first}; --debug shows where"
