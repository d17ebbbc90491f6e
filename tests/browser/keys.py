"""A person who has a keyboard and nothing else."""

from __future__ import annotations

from playwright.sync_api import Error, Page

#: What a focused element is called; null as long as a page has nothing that could have the focus.
_CALLED = """() => {
  const one = document.activeElement;
  return one && (one.getAttribute("aria-label") || one.labels?.[0]?.textContent || one.textContent).trim();
}"""

#: No page has more to step over than this.
_MOST = 150


def called(page: Page) -> str:
    """What has the focus is called, of the page that is there once a form or a link has led to it."""
    while True:
        try:
            name = page.evaluate(_CALLED)
            if name is not None:
                return str(name)
        except Error as error:
            # The page was left meanwhile.
            if "navigation" not in str(error):
                raise
        page.wait_for_load_state()


def to(page: Page, name: str) -> None:
    """Press Tab until what is called so has the focus."""
    page.wait_for_load_state()
    for _ in range(_MOST):
        if called(page).startswith(name):
            return
        page.keyboard.press("Tab")
    raise AssertionError(f"{name} can't be reached by the keyboard on {page.url}")


def press(page: Page, name: str, key: str = "Enter") -> None:
    """Press a button, open what is folded, or with a space tick a box."""
    to(page, name)
    page.keyboard.press(key)


def follow(page: Page, name: str) -> None:
    """Follow a link or press a button that leads to another address."""
    here = page.url
    press(page, name)
    page.wait_for_url(lambda url: url != here)


def write(page: Page, **fields: str) -> None:
    """Fill in fields in their order, and choose in lists by the first letters; `_` stands for a space."""
    for name, text in fields.items():
        to(page, name.replace("_", " "))
        if page.evaluate("document.activeElement.matches('input, textarea')"):
            page.keyboard.press("Control+a")
        page.keyboard.type(text)
