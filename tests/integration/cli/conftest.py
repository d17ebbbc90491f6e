"""The command line run in this process, against a database of the test's own."""

from __future__ import annotations

import io
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pytest

from wickwatch.cli import main
from wickwatch.settings import PREFIX

EXAMPLE = Path(__file__).parents[3] / "deploy" / "fleet-example.toml"


@dataclass(frozen=True)
class Ran:
    """What a command said and how it ended."""

    code: int
    out: str
    err: str


Cli = Callable[..., Ran]


@pytest.fixture
def clean_environment(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """No setting of whoever runs the tests; the program's home is the test's own."""
    import os

    for name in list(os.environ):
        if name.startswith(PREFIX):
            monkeypatch.delenv(name)
    monkeypatch.setenv("WICKWATCH_HOME", str(tmp_path / "home"))


@pytest.fixture
def cli(
    clean_environment: None, database_url: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> Cli:
    """Run a command; `stdin` is its standard input."""
    monkeypatch.setenv("WICKWATCH_DATABASE_URL", database_url)

    def run(*args: object, stdin: str = "") -> Ran:
        monkeypatch.setattr("sys.stdin", io.TextIOWrapper(io.BytesIO(stdin.encode())))
        capsys.readouterr()
        code = main([str(arg) for arg in args])
        said = capsys.readouterr()
        return Ran(code, said.out, said.err)

    return run


@pytest.fixture
def fleet(cli: Cli) -> Cli:
    """The same, with the example fleet applied."""
    assert cli("fleet", "apply", EXAMPLE).code == 0
    return cli
