"""A simulated week, made once for all tests that only look at it."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from tests.integration.report.true_week import TrueWeek, true_week


@pytest.fixture(scope="module")
def week(shared_plain_url: str, tmp_path_factory: pytest.TempPathFactory) -> Iterator[TrueWeek]:
    """A week as it is reported and as it really was."""
    with true_week(shared_plain_url, tmp_path_factory.mktemp("house")) as found:
        yield found
