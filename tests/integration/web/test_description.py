"""The description of the interface, and the interface held against it."""

from __future__ import annotations

import pytest

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


@pytest.mark.parametrize(("who", "examples"), [("nobody", 2), ("Root", 6), ("Otto", 3)])
@pytest.mark.timeout(300)
def test_whatever_is_asked_the_answer_is_one_that_is_described(site: Site, who: str, examples: int) -> None:
    """In tests/reliability the same is asked a hundred times as often."""
    from tests.integration.web.fuzz import fuzz  # imported here alone: it takes seconds

    headers = {} if who == "nobody" else {"Authorization": site.program(who).headers["Authorization"]}
    assert fuzz(site, headers, examples) > 50
