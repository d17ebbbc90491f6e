"""The documents and the program agree: every command and setting is told of, and no other."""

from __future__ import annotations

import re
import shlex
from pathlib import Path

import pytest

from wickwatch.cli.main import parser
from wickwatch.fleet.document import parse
from wickwatch.settings import ACCEPTED, CONFIG, variable

ROOT = Path(__file__).parents[3]
README = (ROOT / "README.md").read_text()
TELLING = [ROOT / "README.md", ROOT / "DEVELOPERS.md", *sorted((ROOT / "deploy").glob("*.md"))]


def commands() -> set[str]:
    """Top-level commands of the program."""
    (actions,) = [action for action in parser()._actions if isinstance(action.choices, dict)]
    return set(actions.choices or ())


def test_the_table_of_commands_is_that_of_the_program() -> None:
    told: set[str] = set()
    for row in re.findall(r"^\| (`wickwatch .*?`.*?) \|", README, re.MULTILINE):
        told |= {span.removeprefix("wickwatch ").split()[0] for span in re.findall(r"`([^`]+)`", row)}
    assert told == commands()


def test_the_table_of_settings_is_that_of_the_program() -> None:
    rows = re.findall(r"^\| (`WICKWATCH_.*?) \|", README, re.MULTILINE)
    assert set(re.findall(r"WICKWATCH_[A-Z_]+", "".join(rows))) == {CONFIG, *map(variable, ACCEPTED)}


@pytest.mark.parametrize("path", [*TELLING, ROOT / "docker-compose.yml"], ids=lambda path: path.name)
def test_no_setting_is_told_of_that_is_not_there(path: Path) -> None:
    assert set(re.findall(r"\bWICKWATCH_[A-Z_]+\b", path.read_text())) <= {CONFIG, *map(variable, ACCEPTED)}


@pytest.mark.parametrize("path", TELLING, ids=lambda path: path.name)
def test_every_command_line_that_is_told_of_can_be_parsed(path: Path) -> None:
    for line in re.findall(r"^(?:    |\$ )(?:\S*/)?wickwatch (.*)$", path.read_text(), re.MULTILINE):
        parser().parse_args(shlex.split(line.replace("…", "x"), comments=True))


def test_the_example_fleet_file_is_where_it_is_said_to_be() -> None:
    assert "deploy/fleet-example.toml" in README
    assert parse((ROOT / "deploy" / "fleet-example.toml").read_bytes())
