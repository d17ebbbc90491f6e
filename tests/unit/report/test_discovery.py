"""The false discovery rate over a page of trends."""

from __future__ import annotations

import numpy as np
import pytest

from wickwatch.report.discovery import adjusted, discovered

# The fifteen p values of Benjamini and Hochberg 1995, section 3.2 (from memory); four are found at 5 %.
_PUBLISHED = [
    0.0001, 0.0004, 0.0019, 0.0095, 0.0201, 0.0278, 0.0298, 0.0344,
    0.0459, 0.3240, 0.4262, 0.5719, 0.6528, 0.7590, 1.0000,
]  # fmt: skip


def test_of_the_published_example_the_first_four_are_found() -> None:
    assert discovered(_PUBLISHED).tolist() == [True] * 4 + [False] * 11


def test_what_could_not_be_tested_counts_for_none_and_stays_unknown() -> None:
    with_gaps = np.array([np.nan, *_PUBLISHED, np.nan])
    assert adjusted(with_gaps)[1:-1] == pytest.approx(adjusted(_PUBLISHED))
    assert np.isnan(adjusted(with_gaps)[[0, -1]]).all()
    assert not discovered(with_gaps)[[0, -1]].any()


def test_a_page_of_noise_has_no_marks() -> None:
    noise = np.random.default_rng(5).uniform(size=(200, 500))
    marked = np.array([discovered(page).any() for page in noise])
    # With nothing to find, a page is marked at all one time in twenty.
    assert marked.mean() == pytest.approx(0.05, abs=0.04)
