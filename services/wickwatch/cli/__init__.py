"""The `wickwatch` command: one file for each sub-command, with `add_parser` and `run`."""

from wickwatch.cli.main import main

__all__ = ["main"]
