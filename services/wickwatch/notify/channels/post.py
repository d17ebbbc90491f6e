"""One POST to an address that a contact names, for the ways that go over the web.

Redirects are not followed and no proxy from the environment is used: what was made for one address goes to that
address. Not here: what is posted, or which answers end a notice or a contact.
"""

from __future__ import annotations

from collections.abc import Mapping

import httpx

from wickwatch.notify.channels.channel import Result

TIMEOUT_S = 10.0


def post(address: str, content: bytes, headers: Mapping[str, str]) -> tuple[Result, int]:
    """What one try led to, taken where the answer is from 200 to 299, and the answer's status; 0 without an answer."""
    try:
        with (
            httpx.Client(timeout=TIMEOUT_S, follow_redirects=False, trust_env=False) as client,
            client.stream("POST", address, content=content, headers={**headers, "user-agent": "wickwatch"}) as answer,
        ):
            said = f"{answer.status_code} {answer.reason_phrase}".strip()
            if answer.is_redirect:
                said += ", and redirects are not followed"
            return Result(answer.is_success, said), answer.status_code
    except httpx.HTTPError as error:
        return Result(False, str(error) or type(error).__name__), 0
    except (httpx.InvalidURL, ValueError) as error:
        return Result(False, f"not an address that can be posted to: {error}", final=True), 0
