"""No page asks anything of another host, and none breaks the policy that it is sent with."""

from __future__ import annotations

from playwright.sync_api import Browser

from tests.integration.web.conftest import opened
from tests.integration.web.doors import knocks
from wickwatch.web.permits import DOORS

#: No pages: answers for programs, and files that a browser downloads.
_NOT_PAGES = (
    *("/api/", "/static/", "/values", "/live", "/healthz", "/readyz", "/metrics", "/openapi.json"),
    *(".ics", ".csv", ".toml"),
)


def test_every_page_asks_its_own_host_only_and_keeps_to_its_policy(plain_url: str, browser: Browser) -> None:
    with opened(plain_url) as site:
        context = browser.new_context(base_url=site.address, locale="en-GB")
        secret = site.browser("Root").cookies["wickwatch_session"]
        context.add_cookies([{"name": "wickwatch_session", "value": secret, "url": site.address}])
        page = context.new_page()
        said: list[str] = []
        hosts: set[str] = set()
        page.on("console", lambda message: said.append(f"{page.url}: {message.text}"))
        page.on("pageerror", lambda error: said.append(f"{page.url}: {error}"))
        page.on("request", lambda request: hosts.add(request.url.split("/")[2]))
        pages = {
            door: knock.path
            for door, knock in knocks(site, "Root").items()
            if door.startswith("GET ") and DOORS[door] != "secret" and not any(part in door for part in _NOT_PAGES)
        }
        pages = {
            door: path for door, path in pages.items() if not door.startswith(("GET /sign-in/openid", "GET /worker"))
        }
        assert len(pages) > 15
        for path in pages.values():
            answer = page.goto(path)
            assert answer is not None
            assert answer.ok, path
        page.wait_for_load_state("networkidle")
        context.close()
    assert said == []
    assert hosts == {site.address.removeprefix("http://")}
