"""Answering from a message on a phone without scripts, and messages shown by a real browser's service worker."""

from __future__ import annotations

import json

from playwright.sync_api import expect

from tests.browser.conftest import SIZES, Site, link
from tests.browser.test_pages import _fits
from tests.parts.process import wait_until


def test_a_call_is_answered_on_a_phone_without_scripts_and_without_a_sign_in(site: Site) -> None:
    context = site.browser.new_context(
        base_url=site.address,
        viewport={"width": 390, "height": SIZES[390]},
        java_script_enabled=False,
        locale="en-GB",
    )
    page = context.new_page()
    page.set_default_timeout(20_000)
    page.goto(link(site, "empty"))
    expect(page.get_by_role("heading", level=1)).to_contain_text("R3 east in Room 3 is empty")
    _fits(page)
    box = page.get_by_role("button", name="This is mine").bounding_box()
    assert box is not None and box["y"] + box["height"] <= SIZES[390], "one tap, without scrolling"
    page.get_by_role("button", name="This is mine").click()
    expect(page.get_by_text("Mara has it").first).to_be_visible()
    expect(page.get_by_role("button", name="This is mine")).to_have_count(0)
    expect(page.get_by_role("heading", name="What to do")).to_be_visible()
    page.get_by_label("What you did").select_option("Refilled the reservoir")
    page.get_by_label("Note").fill("60 l, by can")
    page.get_by_role("button", name="Record").click()
    expect(page.locator(".life").get_by_text("60 l, by can")).to_be_visible()
    page.get_by_text("Set it aside for a while").click()
    page.get_by_label("Why").fill("the tanker comes at noon")
    page.get_by_role("button", name="Shelve").click()
    expect(page.get_by_role("button", name="Take it off the shelf now")).to_be_visible()
    page.goto("/alarms")
    expect(page.get_by_role("button", name="Sign in")).to_be_visible()


def test_the_worker_shows_a_message_once_and_a_later_one_in_its_place(site: Site) -> None:
    page = site.open("Mara", 390)
    page.context.grant_permissions(["notifications"])
    page.goto("/me")
    _fits(page)
    expect(page.get_by_role("button", name="Show calls on this device")).to_be_visible()
    page.evaluate("navigator.serviceWorker.register('/worker.js').then(() => navigator.serviceWorker.ready)")
    devtools = page.context.new_cdp_session(page)
    registrations: list[str] = []
    devtools.on(
        "ServiceWorker.workerRegistrationUpdated",
        lambda told: registrations.extend(each["registrationId"] for each in told["registrations"]),
    )
    devtools.send("ServiceWorker.enable")
    page.wait_for_function("() => navigator.serviceWorker.ready.then((one) => Boolean(one.active))")
    wait_until(lambda: page.evaluate("1") == 1 and bool(registrations), "the worker is known")

    def pushed(key: str, title: str) -> None:
        message = {"title": title, "body": "Pot 1 dries out.", "tag": "alarm-1", "key": key, "url": "/alarms"}
        devtools.send(
            "ServiceWorker.deliverPushMessage",
            {"origin": site.address, "registrationId": registrations[0], "data": json.dumps(message)},
        )

    shown = (
        "navigator.serviceWorker.ready.then((one) => one.getNotifications())"
        ".then((all) => all.map((one) => [one.title, one.body, one.data.key, one.renotify]))"
    )
    pushed("k1", "Now: drying")
    wait_until(lambda: page.evaluate(shown) == [["Now: drying", "Pot 1 dries out.", "k1", True]], "it is shown")
    pushed("k1", "Now: drying")
    wait_until(lambda: page.evaluate(shown) == [["Now: drying", "Pot 1 dries out.", "k1", False]], "no second sound")
    pushed("k2", "Now: drying (worse now)")
    wait_until(lambda: [one[2] for one in page.evaluate(shown)] == ["k2"], "the later one stands in its place")
