"""Chromium as a person's browser, driven by Playwright.

Not here: pages. Debian's browser is used because it comes from the same packages as everything else; Playwright's own
download does not.
"""

from __future__ import annotations

import os
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from playwright.sync_api import Browser, sync_playwright

from tests.parts.packages import MissingPartError, program

_FLAGS = [
    "--disable-gpu",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--disable-dev-shm-usage",
]


def executable() -> Path:
    """Where Chromium is; MissingPartError if it is not installed."""
    for name in ("chromium", "chromium-browser", "google-chrome"):
        try:
            return program(name, "chromium")
        except MissingPartError:
            continue
    return program("chromium", "chromium")


@contextmanager
def running() -> Iterator[Browser]:
    """A browser; each test opens its own context in it, which is a new profile.

    Playwright keeps an event loop in the calling thread while it runs, and `asyncio.run` refuses beside it. So keep
    it no longer than needed: for the tests of browsers, not a session's.
    """
    flags = [*_FLAGS, *(["--no-sandbox"] if os.geteuid() == 0 else [])]
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=str(executable()), headless=True, args=flags)
        try:
            yield browser
        finally:
            browser.close()


def describe() -> str:
    """Which browser it is, for a person."""
    said = subprocess.run([executable(), "--version"], capture_output=True, text=True, check=False).stdout
    return said.split(" built on")[0].strip()
