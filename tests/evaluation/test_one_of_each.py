"""One of each fault, simulated: found in time and on the right subject, with hardly a call too many."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.evaluation.evaluate import evaluate
from wickwatch_simulator.load import load_scenario
from wickwatch_simulator.score_report import as_json, as_text


@pytest.mark.timeout(300)
def test_one_of_each_fault_is_found_and_hardly_anybody_is_called_for_nothing() -> None:
    result = evaluate(load_scenario(Path(__file__).with_name("one_of_each.toml")), interval_s=60)
    kinds = as_json(result)["kinds"]
    told = as_text(result)
    for kind in ("sudden-wetting", "drying-drift", "reservoir-empty", "probe-silent", "gateway-silent"):
        assert kinds[kind]["recall"] == 1.0, told
    assert (result.run_outs, result.foretold) == (1, 1), told
    # A pot watered by hand while its neighbours drink is still taken for an emitter stuck open now and then.
    assert len(result.false) <= 1, told
