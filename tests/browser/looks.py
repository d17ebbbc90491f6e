"""What a program can see of how a page looks and reads: it fits, nothing is cut, and WCAG's rules are kept."""

from __future__ import annotations

from contextlib import suppress

from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page

from tests.parts.process import wait_until

#: Every rule of WCAG 2.2 AA, and of good practice, that a program can check.
RULES = ("wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice")

#: Text that lies outside what shows it. What is there for the ear alone is cut on purpose, and a room for
#: which the wall has no row is not there.
_CUT = """() => [...document.querySelectorAll("body *")].filter((one) => {
  const style = getComputedStyle(one);
  if (!one.textContent.trim() || one.closest(".hidden, .told-only, .by-enter, svg")) return false;
  if (one.matches(".others > li") && !one.clientHeight) return false;
  const cuts = (overflow) => overflow === "hidden" || overflow === "clip";
  return (cuts(style.overflowX) && one.scrollWidth > one.clientWidth + 1)
    || (cuts(style.overflowY) && one.scrollHeight > one.clientHeight + 1);
}).map((one) => one.outerHTML.slice(0, 120))"""


def unfold(page: Page) -> None:
    """Open everything that is folded."""
    page.evaluate("document.querySelectorAll('details').forEach((each) => { each.open = true; })")


def violations(page: Page, *rules: str) -> list[str]:
    """What of these rules of axe, or of all, is broken."""
    only = {"type": "rule", "values": list(rules)} if rules else list(RULES)
    found = Axe().run(page, options={"runOnly": only, "resultTypes": ["violations"]}).response["violations"]
    return [f"{each['id']}: {each['help']}: {[node['html'][:160] for node in each['nodes'][:3]]}" for each in found]


def misfits(page: Page) -> list[str]:
    """What makes the page wider than its screen, or is cut by it."""

    def found() -> list[str]:
        wide, screen = page.evaluate("[document.documentElement.scrollWidth, innerWidth]")
        return [f"{wide} px wide on {screen}"] * (wide > screen) + [f"cut: {one}" for one in page.evaluate(_CUT)]

    with suppress(TimeoutError):  # a chart follows its screen a frame after the one that has the new width
        wait_until(lambda: not found(), "fitting", 2.0)
    return found()


def accessible(page: Page) -> None:
    """Fails where any of the rules is broken."""
    found = violations(page)
    assert not found, "\n".join([page.url, *found])


def fits(page: Page) -> None:
    """Fails where the page does not fit its screen."""
    found = misfits(page)
    assert not found, "\n".join([page.url, *found])
