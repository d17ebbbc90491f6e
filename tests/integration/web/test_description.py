"""The description of the interface, and the interface held against it."""

from __future__ import annotations

from typing import Any

import pytest
import schemathesis
from hypothesis import HealthCheck, Phase, settings
from schemathesis.checks import CHECKS

from tests.integration.web.conftest import Site


def test_the_description_names_every_call_of_the_contract(shown: Site) -> None:
    described = shown.visitor().get("/openapi.json").json()
    calls = {f"{method.upper()} {path}" for path, methods in described["paths"].items() for method in methods}
    assert calls >= {
        "GET /api/v1/rooms",
        "GET /api/v1/rooms/{id}",
        "GET /api/v1/channels",
        "PUT /api/v1/channels/{id}/assignment",
        "GET /api/v1/readings",
        "POST /api/v1/readings",
        "GET /api/v1/alarms",
        "POST /api/v1/alarms/{id}/acknowledge",
        "POST /api/v1/alarms/{id}/shelve",
        "POST /api/v1/alarms/{id}/unshelve",
        "POST /api/v1/work",
        "GET /healthz",
        "GET /readyz",
        "GET /metrics",
    }
    assert "HTTPValidationError" not in str(described)


def test_a_field_that_carries_a_unit_says_so_in_its_name(shown: Site) -> None:
    described = shown.visitor().get("/openapi.json").json()["components"]["schemas"]
    numbers = {
        name
        for schema in described.values()
        for name, field in schema.get("properties", {}).items()
        if "number" in str(field.get("type", "")) + str(field.get("anyOf", ""))
    }
    without_unit = {"value", "min", "mean", "max", "last_value"}  # their channel's `unit` stands beside them
    ends = ("_mbar", "_mm", "_l", "_l_per_h", "_s")
    assert {name for name in numbers - without_unit - {"evidence"} if not name.endswith(ends)} == set()


@pytest.mark.parametrize("who", ["nobody", "Root"])
@pytest.mark.timeout(300)
def test_whatever_is_asked_the_answer_is_one_that_is_described(site: Site, who: str) -> None:
    headers = {} if who == "nobody" else {"Authorization": site.program(who).headers["Authorization"]}
    described = schemathesis.openapi.from_url(f"{site.address}/openapi.json")
    names = ("not_a_server_error", "status_code_conformance", "content_type_conformance", "response_schema_conformance")
    checks = CHECKS.get_by_names(names)
    for result in described.get_all_operations():
        operation = result.ok()

        @settings(
            max_examples=12,
            phases=[Phase.generate],
            suppress_health_check=list(HealthCheck),
            deadline=None,
            derandomize=True,
            database=None,
        )
        @_given(operation)
        def ask(case: Any) -> None:
            case.call_and_validate(headers=headers, checks=checks)

        ask()


def _given(operation: Any) -> Any:
    from hypothesis import given

    return given(case=operation.as_strategy())
