"""The command line as a whole: what is there, its help, its exit codes and its sentences."""

from __future__ import annotations

import argparse
import subprocess
import sys
from collections.abc import Iterator

import pytest

from wickwatch.cli import main, user
from wickwatch.cli.main import COMMANDS, parser
from wickwatch.errors import InputError, UnavailableError


@pytest.fixture(autouse=True)
def no_settings(monkeypatch: pytest.MonkeyPatch, tmp_path: object) -> None:
    import os

    for name in list(os.environ):
        if name.startswith("WICKWATCH_"):
            monkeypatch.delenv(name)
    monkeypatch.setenv("WICKWATCH_HOME", str(tmp_path))


def every_command(
    of: argparse.ArgumentParser | None = None, path: tuple[str, ...] = ()
) -> Iterator[tuple[tuple[str, ...], argparse.ArgumentParser]]:
    """Each command and sub-command with its parser."""
    made = of or parser()
    for action in made._actions:
        if isinstance(action, argparse._SubParsersAction):
            for name, below in action.choices.items():
                yield (*path, name), below
                yield from every_command(below, (*path, name))


@pytest.mark.parametrize("path", [path for path, _ in every_command()], ids=" ".join)
def test_every_command_has_help(path: tuple[str, ...], capsys: pytest.CaptureFixture[str]) -> None:
    assert main([*path, "--help"]) == 0
    said = capsys.readouterr().out
    assert said.startswith(f"usage: wickwatch {' '.join(path)}")
    assert len(said.splitlines()) > 3


@pytest.mark.parametrize("path", [path for path, _ in every_command()], ids=" ".join)
def test_every_option_says_what_it_is(path: tuple[str, ...]) -> None:
    for action in dict(every_command())[path]._actions:
        if not isinstance(action, argparse._SubParsersAction) and action.option_strings:
            assert action.help, (path, action.option_strings)


def test_a_command_module_stands_once_in_the_list() -> None:
    assert len(set(COMMANDS)) == len(COMMANDS) == len([path for path, _ in every_command() if len(path) == 1])


@pytest.mark.parametrize(
    ("args", "said"),
    [
        ([], "the following arguments are required: COMMAND"),
        (["nothing"], "invalid choice: 'nothing'"),
        (["fleet"], "the following arguments are required: apply|export"),
        (["fleet", "apply"], "the following arguments are required: FILE.toml"),
        (["migrate", "--now"], "unrecognized arguments: --now"),
        (["web", "--port", "70000"], "'70000' is not a whole number from 1 to 65535"),
        (["web", "--port", "http"], "'http' is not a whole number from 1 to 65535"),
        (["user", "add", "Kim"], "the following arguments are required: --role"),
        (["user", "add", "Kim", "--role", "owner"], "invalid choice: 'owner'"),
        (["user", "add", "Kim", "--role", "grower", "--facility", "Birch Wood"], "'Birch Wood' is not a slug"),
        (["import"], "the following arguments are required: FILE"),
        (
            ["export", "--from", "2026-11-01T00:00:00Z", "--to", "2026-11-02T00:00:00Z", "--out", "x.xls"],
            "ends neither in",
        ),
        (["backtest", "--from", "2026-11-01T00:00:00", "--to", "2026-11-02T00:00:00Z"], "has no time zone; write 2026"),
        (["backtest", "--from", "2026-11-01", "--to", "2026-11-02T00:00:00Z"], "not a time as RFC 3339 writes it"),
        (["backtest", "--from", "2026-02-30T00:00:00Z", "--to", "2026-11-02T00:00:00Z"], "not a time as RFC 3339"),
        (["demo", "--rooms", "0"], "'0' is not a whole number from 1 to"),
    ],
)
def test_bad_usage_exits_2_and_says_what_is_wrong(
    args: list[str], said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(args) == 2
    assert said in capsys.readouterr().err


def test_a_bad_setting_stops_the_start_with_one_sentence(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("WICKWATCH_DATABSE_URL", "postgresql://h/d")
    assert main(["migrate"]) == 1
    said = capsys.readouterr().err
    assert said.startswith("wickwatch migrate: setting is 'WICKWATCH_DATABSE_URL'; accepted: one of WICKWATCH_DATABASE")
    assert len(said.splitlines()) == 1


@pytest.mark.parametrize(
    ("failure", "said"),
    [
        (InputError("room", "x", "one of: a, b"), "room is 'x'; accepted: one of: a, b"),
        (UnavailableError("database", "connection refused"), "database does not answer: connection refused"),
        (FileNotFoundError(2, "No such file or directory", "a.csv"), "a.csv: No such file or directory"),
        (KeyboardInterrupt(), "interrupted"),
        (ZeroDivisionError("division by zero"), "a fault of the program, ZeroDivisionError: division by zero; --debug"),
    ],
)
def test_a_failure_exits_1_with_one_sentence_and_no_traceback(
    failure: BaseException, said: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def fail(*_: object) -> None:
        raise failure

    monkeypatch.setattr("wickwatch.settings.load", fail)
    assert main(["migrate"]) == 1
    err = capsys.readouterr().err
    assert err.startswith(f"wickwatch migrate: {said}")
    assert len(err.splitlines()) == 1
    assert main(["--debug", "migrate"]) == 1
    assert "Traceback" in capsys.readouterr().err
    assert main(["migrate", "--debug"]) == 1
    assert "Traceback" in capsys.readouterr().err


@pytest.mark.parametrize("command", ["web", "notify", "run"])
def test_what_signs_does_not_start_without_a_secret_key(command: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main([command]) == 1
    assert capsys.readouterr().err.startswith(f"wickwatch {command}: WICKWATCH_SECRET_KEY is ''; accepted: text that")


def test_ingest_alone_does_not_start_without_a_broker(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["ingest"]) == 1
    assert capsys.readouterr().err.startswith("wickwatch ingest: WICKWATCH_MQTT_URL is ''; accepted: mqtt://")


def test_help_loads_nothing_that_a_command_works_with() -> None:
    code = (
        "import sys; from wickwatch.cli.main import parser; parser(); heavy = "
        "{'numpy', 'pandas', 'psycopg', 'pydantic', 'fastapi', 'rich', 'pyarrow', 'paho'}; "
        "print(sorted(heavy & set(sys.modules)))"
    )
    assert subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout == "[]\n"


def test_the_package_runs_as_a_module() -> None:
    ran = subprocess.run([sys.executable, "-m", "wickwatch", "--version"], capture_output=True, text=True, check=True)
    assert ran.stdout.startswith("wickwatch 0.")


def test_roles_are_those_of_the_store() -> None:
    from wickwatch.store.access import SCOPES
    from wickwatch.store.people import ROLES

    assert user.ROLES == ROLES
    assert user.SCOPES == SCOPES
