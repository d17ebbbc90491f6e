"""Answering from a message on a phone without scripts, and messages shown by a real browser's service worker."""

from __future__ import annotations

from datetime import UTC, datetime

import psycopg
from playwright.sync_api import expect

from tests.browser.conftest import SIZES, Site
from tests.browser.looks import fits
from tests.parts.process import wait_until
from tests.parts.push import Device
from tests.parts.web import SECRET_KEY
from wickwatch.notify.links import LASTS, Link, sign
from wickwatch.store import contacts


def link(site: Site, alarm: str) -> str:
    """The path by which a message to Mara opens an alarm."""
    until = datetime.now(UTC) + LASTS
    return f"/a/{sign(SECRET_KEY, Link(site.scene.people['mara'], site.scene.alarms[alarm], until))}"


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
    fits(page)
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


#: A browser's changed subscription, as the event brings it; headless browsers have no push service to make one.
CHANGED = """({former, fresh}) => {
    const made = (one) => one && {endpoint: one.address, options: {applicationServerKey: new ArrayBuffer(65)},
        toJSON: () => ({endpoint: one.address, keys: {p256dh: one.key, auth: one.auth}})};
    const event = new ExtendableEvent("pushsubscriptionchange");
    self.asked = null;
    PushManager.prototype.subscribe = async (wanted) => { self.asked = wanted; return made(fresh); };
    self.dispatchEvent(Object.assign(event, {oldSubscription: made(former), newSubscription: null}));
}"""

#: A device that remembers slowly, so that the next change always comes before it has.
SLOW = """() => {
    const put = Cache.prototype.put;
    Cache.prototype.put = async function (...kept) {
        await new Promise((done) => setTimeout(done, 500));
        return put.apply(this, kept);
    };
}"""


def test_a_subscription_that_the_browser_changed_is_told_to_the_house_though_nobody_is_signed_in(site: Site) -> None:
    device = Device()
    mara = site.scene.people["mara"]

    def at(number: int) -> dict[str, str]:
        address = f"https://push.example.org/{number}"
        return {"address": address, "key": device.key_text, "auth": device.auth_text}

    def reached() -> list[str]:
        with psycopg.connect(site.database_url) as conn:
            return [each.address for each in contacts.of_person(conn, mara) if each.way == "push"]

    with psycopg.connect(site.database_url) as conn:
        contacts.add_browser(conn, mara, *at(1).values(), "phone", datetime.now(UTC))
    context = site.browser.new_context(base_url=site.address)
    page = context.new_page()
    page.goto("/sign-in")
    page.evaluate("navigator.serviceWorker.register('/worker.js').then(() => navigator.serviceWorker.ready)")
    wait_until(lambda: page.evaluate("1") == 1 and bool(context.service_workers), "the worker is known")
    (worker,) = context.service_workers
    worker.evaluate(SLOW)
    worker.evaluate(CHANGED, {"former": at(1), "fresh": at(2)})
    wait_until(lambda: page.evaluate("1") == 1 and reached() == [at(2)["address"]], "the house knows the new address")
    assert worker.evaluate("[self.asked.userVisibleOnly, self.asked.applicationServerKey.byteLength]") == [True, 65]
    # A browser that does not tell what there was: the device remembers what the house knows.
    worker.evaluate(CHANGED, {"former": None, "fresh": at(3)})
    wait_until(lambda: page.evaluate("1") == 1 and reached() == [at(3)["address"]], "and the one after it")
    # A change that could not be told then is told when a page asks the worker to look.
    worker.evaluate(
        "(one) => { PushManager.prototype.getSubscription = async () => ({endpoint: one.address,"
        " toJSON: () => ({endpoint: one.address, keys: {p256dh: one.key, auth: one.auth}})}); }",
        at(4),
    )
    page.evaluate("navigator.serviceWorker.ready.then((there) => there.active.postMessage({}))")
    wait_until(lambda: page.evaluate("1") == 1 and reached() == [at(4)["address"]], "and a belated one")


#: A message as a push service brings it: the worker's own listener gets it, and its work is waited for to the end.
PUSHED = """async (message) => {
    let work;
    const event = new PushEvent("push", {data: JSON.stringify(message)});
    self.dispatchEvent(Object.assign(event, {waitUntil: (promised) => { work = promised; }}));
    await work;
    const all = await self.registration.getNotifications();
    return all.map((one) => [one.title, one.body, one.data.key, one.renotify]);
}"""


def test_the_worker_shows_a_message_once_and_a_later_one_in_its_place(site: Site) -> None:
    page = site.open("Mara", 390)
    page.context.grant_permissions(["notifications"])
    page.goto("/me")
    fits(page)
    expect(page.get_by_role("button", name="Show calls on this device")).to_be_visible()
    page.evaluate("navigator.serviceWorker.register('/worker.js').then(() => navigator.serviceWorker.ready)")
    page.wait_for_function("() => navigator.serviceWorker.ready.then((one) => one.active.state === 'activated')")
    wait_until(lambda: page.evaluate("1") == 1 and bool(page.context.service_workers), "the worker is known")
    (worker,) = page.context.service_workers

    def shown_after(key: str, title: str) -> object:
        message = {"title": title, "body": "Pot 1 dries out.", "tag": "alarm-1", "key": key, "url": "/alarms"}
        return worker.evaluate(PUSHED, message)

    assert shown_after("k1", "Now: drying") == [["Now: drying", "Pot 1 dries out.", "k1", True]]
    assert shown_after("k1", "Now: drying") == [["Now: drying", "Pot 1 dries out.", "k1", False]], "no second sound"
    later = "Now: drying (worse now)"
    assert shown_after("k2", later) == [[later, "Pot 1 dries out.", "k2", True]], "the later one stands in its place"
