"""One of each fault, simulated: found in time, on the right subject, and nobody called for what is harmless."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.evaluation.evaluate import evaluate
from wickwatch_simulator.load import load_scenario
from wickwatch_simulator.score_report import as_json, as_text


@pytest.mark.timeout(300)
def test_one_of_each_fault_is_found_and_what_is_harmless_calls_nobody() -> None:
    result = evaluate(load_scenario(Path(__file__).with_name("one_of_each.toml")), interval_s=60)
    kinds = as_json(result)["kinds"]
    told = as_text(result)
    for kind in ("sudden-wetting", "drying-drift", "reservoir-empty", "probe-silent", "gateway-silent"):
        assert kinds[kind]["recall"] == 1.0, told
    assert not result.false, told
