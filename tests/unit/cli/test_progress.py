"""Progress: a bar on a terminal for what takes long, log lines elsewhere, nothing for what is soon done."""

from __future__ import annotations

import io
import logging

import pytest

from wickwatch.cli.progress import progress


class Clock:
    """Seconds that pass only when they are told to."""

    def __init__(self) -> None:
        self.now = 100.0

    def __call__(self) -> float:
        return self.now


class Terminal(io.StringIO):
    """Text that is shown to a person."""

    def isatty(self) -> bool:
        return True


def test_work_of_less_than_two_seconds_shows_nothing(caplog: pytest.LogCaptureFixture) -> None:
    caplog.set_level(logging.INFO, "wickwatch")
    for stream in (Terminal(), io.StringIO()):
        clock = Clock()
        with progress("readings", 100, stream=stream, clock=clock) as advance:
            for _ in range(10):
                clock.now += 0.19
                advance(10)
        assert stream.getvalue() == ""
    assert caplog.messages == []


def test_longer_work_shows_a_bar_on_a_terminal() -> None:
    terminal, clock = Terminal(), Clock()
    with progress("readings", 100, stream=terminal, clock=clock) as advance:
        clock.now += 2.5
        advance(40)
    assert "readings" in terminal.getvalue()
    assert "40/100" in terminal.getvalue()


def test_without_a_terminal_lines_come_ten_seconds_apart(
    caplog: pytest.LogCaptureFixture, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(logging.getLogger("wickwatch"), "propagate", True)
    caplog.set_level(logging.INFO, "wickwatch")
    stream, clock = io.StringIO(), Clock()
    with progress("readings", None, stream=stream, clock=clock) as advance:
        for _ in range(25):
            clock.now += 1.0
            advance(1000)
    assert stream.getvalue() == ""
    assert caplog.messages == [f"progress what=readings done={done} total=unknown" for done in (2000, 12000, 22000)]
