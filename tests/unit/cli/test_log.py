"""Log lines: one event each, also what libraries warn of."""

from __future__ import annotations

import logging
from collections.abc import Iterator
from io import StringIO

import pytest

from wickwatch import log


@pytest.fixture
def stream() -> Iterator[StringIO]:
    own, root = logging.getLogger("wickwatch"), logging.getLogger()
    before = own.handlers[:], own.level, own.propagate, root.handlers[:]
    lines = StringIO()
    log.to_stream(lines)
    yield lines
    own.handlers[:], own.level, own.propagate, root.handlers[:] = before


def test_an_event_is_one_line_with_its_fields_in_their_order(stream: StringIO) -> None:
    log.event("pack.refused", topic="wickwatch/birchwood/gw-01", reason="no such channel")
    (line,) = stream.getvalue().splitlines()
    assert line.endswith('INFO pack.refused topic=wickwatch/birchwood/gw-01 reason="no such channel"')


def test_what_a_library_warns_of_is_one_event_that_names_it_and_its_error(stream: StringIO) -> None:
    try:
        raise ConnectionError("server closed\nthe connection")
    except ConnectionError:
        logging.getLogger("some.pool").warning("discarding connection %s", 7, exc_info=True)
    (line,) = stream.getvalue().splitlines()
    assert 'WARNING library.warned logger=some.pool message="discarding connection 7" error=' in line
    assert "server closed" in line


def test_what_a_library_merely_tells_is_no_line(stream: StringIO) -> None:
    logging.getLogger("some.pool").info("connected")
    assert stream.getvalue() == ""


def test_setting_the_stream_again_writes_each_line_once(stream: StringIO) -> None:
    log.to_stream(stream)
    log.warning("a")
    logging.getLogger("some.pool").warning("b")
    assert len(stream.getvalue().splitlines()) == 2
