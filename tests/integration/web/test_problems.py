"""Errors over the JSON API all have one shape."""

from __future__ import annotations

import pytest

from tests.integration.web.conftest import Site


@pytest.mark.parametrize(
    ("method", "path", "status"),
    [
        ("GET", "/api/v1/nothing", 404),
        ("DELETE", "/api/v1/rooms", 405),
        ("POST", "/api/v1/alarms", 405),
        ("GET", "/api/v1/rooms?limit=many", 422),
        ("GET", "/api/v1/readings", 422),
        ("GET", "/metrics/nothing", 404),
    ],
)
def test_an_error_is_a_problem_with_status_title_and_a_sentence(
    shown: Site, method: str, path: str, status: int
) -> None:
    answer = shown.program("Root").request(method, path)
    assert answer.status_code == status
    assert answer.headers["content-type"] == "application/problem+json"
    problem = answer.json()
    assert problem["status"] == status
    assert problem["type"] == "about:blank"
    assert problem["title"]
    assert problem["detail"]


def test_a_bug_is_a_500_that_tells_nothing_of_the_inside(site: Site) -> None:
    api = site.program("Root")
    with site.connect() as conn:
        conn.execute("ALTER TABLE room RENAME COLUMN lights_on TO lights_up")
    answer = api.get("/api/v1/rooms")
    assert answer.status_code == 500
    assert answer.headers["content-type"] == "application/problem+json"
    assert "lights" not in answer.text
    assert answer.headers["x-content-type-options"] == "nosniff"
