"""Asks every described call whatever its description allows, and what it does not, and holds the answers against it.

Half of what is asked is about things that are there, so that it gets further than "no such thing".
"""

from __future__ import annotations

import re
from typing import Any

import schemathesis
from hypothesis import HealthCheck, Phase, given, settings
from schemathesis import GenerationMode
from schemathesis.checks import CHECKS

from tests.integration.web.conftest import Site
from tests.integration.web.doors import knocks

#: No 5xx; no status, content type or shape that the description does not name.
CHECKED = ("not_a_server_error", "status_code_conformance", "content_type_conformance", "response_schema_conformance")


def fuzz(site: Site, headers: dict[str, str], examples: int, *, seed: int | None = None) -> int:
    """Ask each call at least so often, by these headers; returns how often was asked. Raises where an answer is wrong.

    Without a seed the same is asked each time.
    """
    described = schemathesis.openapi.from_url(f"{site.address}/openapi.json")
    checks = CHECKS.get_by_names(CHECKED)
    there = {door: _parameters(door, knock.path) for door, knock in knocks(site, "Root").items()}
    asked = 0

    def ask_all(operation: Any, parameters: dict[str, str] | None, mode: GenerationMode, count: int) -> None:
        @settings(
            max_examples=count,
            phases=[Phase.generate],
            suppress_health_check=list(HealthCheck),
            deadline=None,
            derandomize=seed is None,
            database=None,
        )
        @given(case=operation.as_strategy(generation_mode=mode, path_parameters=parameters))
        def ask(case: Any) -> None:
            nonlocal asked
            asked += 1
            case.call_and_validate(headers=headers, checks=checks)

        if seed is not None:
            from hypothesis import seed as with_seed

            with_seed(seed)(ask)()
        else:
            ask()

    for result in described.get_all_operations():
        operation = result.ok()
        known = there[f"{operation.method.upper()} {operation.path}"]
        for parameters in (None, known) if known else (None,):
            ask_all(operation, parameters, GenerationMode.POSITIVE, -(-examples // (2 if known else 1)))
        if operation.query or operation.body:
            ask_all(operation, known or None, GenerationMode.NEGATIVE, -(-examples // 3))
    return asked


def _parameters(door: str, path: str) -> dict[str, str]:
    """What stands in the path of a good request where its template has names."""
    template = re.sub(r"\\\{(\w+)\\\}", r"(?P<\1>[^/?]+)", re.escape(door.partition(" ")[2]))
    found = re.match(template, path)
    return found.groupdict() if found else {}
