"""The browser runs scripts, and a new page knows nothing of the one before."""

from __future__ import annotations

from playwright.sync_api import Page

from tests.parts.webhook import Receiver


def test_the_browser_runs_scripts(page: Page) -> None:
    page.set_content("<p id=p></p><script>document.getElementById('p').textContent = 6 * 7</script>")
    assert page.inner_text("#p") == "42"


def test_each_page_is_a_new_profile(page: Page, receiver: Receiver) -> None:
    receiver.status, receiver.headers = 200, {"set-cookie": "a=b"}
    page.goto(receiver.url)
    page.context.browser.new_context().new_page().goto(receiver.url)  # type: ignore[union-attr]
    pages = [call for call in receiver.calls if call.path == "/"]  # the icon is asked for too, in its own time
    assert [("cookie" in call.headers) for call in pages] == [False, False]
    page.goto(receiver.url + "again")
    (again,) = [call for call in receiver.calls if call.path == "/again"]
    assert again.headers["cookie"] == "a=b"
