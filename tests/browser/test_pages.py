"""What people do with the pages, in a real browser."""

from __future__ import annotations

import re
from datetime import UTC, datetime

import psycopg
import pytest
from playwright.sync_api import expect

from tests.browser.conftest import Site
from tests.browser.looks import accessible, fits
from tests.builders import events

# A browser's start is slow where other tests have the machine too; a page that hangs fails by its own limit of 20 s.
pytestmark = pytest.mark.timeout(300)


@pytest.mark.parametrize(("width", "scripts"), [(390, True), (1280, True), (1920, True), (390, False)])
def test_the_grower_sees_the_room_that_needs_someone_opens_it_and_acknowledges(
    site: Site, width: int, scripts: bool
) -> None:
    page = site.open("Mara", width, scripts=scripts)
    expect(page.get_by_role("heading", level=1)).to_have_text("3 rooms need someone, somebody has 1 other")
    rooms = page.get_by_role("heading", level=3)
    expect(rooms.first).to_have_text("Room 3")
    fits(page)
    rooms.first.get_by_role("link").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Room 3")
    expect(page.get_by_label(re.compile("^Tension: 6 lines"))).to_be_visible()
    fits(page)
    page.get_by_role("link", name="R3 east in Room 3 is empty").first.click()
    expect(page.get_by_role("heading", level=1)).to_contain_text("R3 east in Room 3 is empty")
    fits(page)
    page.get_by_role("button", name="Acknowledge").click()
    expect(page.get_by_text("Mara has it").first).to_be_visible()
    expect(page.get_by_role("button", name="Acknowledge")).to_have_count(0)
    page.goto("/")
    expect(page.get_by_role("heading", level=1)).to_have_text("2 rooms need someone, somebody has 2 others")


def test_work_is_recorded_at_the_bench_on_a_phone(site: Site) -> None:
    page = site.open("Mara", 390)
    page.get_by_role("link", name="Room 3", exact=True).first.click()
    page.get_by_label("What you did").select_option("Refilled the reservoir")
    page.get_by_label("To what").select_option("R3 east")
    page.get_by_label("Note").fill("60 l, by can")
    page.get_by_role("button", name="Record").click()
    expect(page.locator(".life li").first).to_contain_text("Refilled the reservoir: R3 east")
    expect(page.locator(".life li").first).to_contain_text("60 l, by can")
    page.get_by_role("link", name="Correct: Refilled the reservoir, R3 east").click()
    expect(page.get_by_label("What you did")).to_have_value("refilled")
    page.get_by_label("Note").fill("80 l, by can")
    accessible(page)
    page.get_by_role("button", name="Record this instead").click()
    expect(page.locator(".life li").first).to_contain_text("80 l, by can")
    expect(page.locator(".life li")).to_have_count(1)


def test_at_night_on_a_phone_the_steps_are_followed_and_the_work_told(site: Site) -> None:
    page = site.open("Mara", 390, scripts=False, at=f"/alarms/{site.scene.alarms['drift']}")
    expect(page.get_by_text("Lift the cup, soak it at least 15 minutes")).to_be_visible()
    page.get_by_label("What you did").select_option("Re-set the emitter")
    page.get_by_label("When").select_option("half an hour ago")
    page.get_by_role("button", name="Record").click()
    expect(page.locator(".life li").first).to_contain_text("Re-set the emitter")
    page.goto(f"/rooms/{site.scene.rooms['room-07']}")
    expect(page.locator("#work .life li").first).to_contain_text("settling until")
    expect(page.get_by_role("heading", name="Settling after work")).to_be_visible()
    page.get_by_role("link", name="Which of them are ready for an emitter?").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Ready for an emitter?")
    fits(page)


def test_a_managers_own_text_is_on_the_alarm_at_once(site: Site) -> None:
    page = site.open("Root", 1280, at="/facilities/birchwood/advice")
    page.get_by_label("Your own text (Reservoir empty").fill("Cans stand behind the east door.")
    page.get_by_role("button", name="Save the text for Reservoir empty").click()
    grower = site.open("Mara", 390, at=f"/alarms/{site.scene.alarms['empty']}")
    expect(grower.get_by_text("Cans stand behind the east door.")).to_be_visible()
    fits(grower)


def test_everything_is_done_with_the_keyboard_alone(site: Site) -> None:
    page = site.open("Mara")
    page.keyboard.press("Tab")
    expect(page.get_by_role("link", name="To the content")).to_be_focused()
    page.keyboard.press("Enter")
    target = page.get_by_role("link", name="R3 east in Room 3 is empty")
    for _ in range(40):
        page.keyboard.press("Tab")
        if target.evaluate("(link) => link === document.activeElement"):
            break
    expect(target).to_be_focused()
    page.keyboard.press("Enter")
    button = page.get_by_role("button", name="Acknowledge")
    expect(button).to_be_visible()
    for _ in range(20):
        page.keyboard.press("Tab")
        if button.evaluate("(button) => button === document.activeElement"):
            break
    expect(button).to_be_focused()
    outline = button.evaluate("(button) => getComputedStyle(button).outlineStyle")
    assert outline == "solid"
    page.keyboard.press("Enter")
    expect(page.get_by_text("Mara has it").first).to_be_visible()


def test_the_chart_tells_exact_values_under_the_pointer_and_by_keyboard(site: Site) -> None:
    page = site.open("Mara", at=f"/rooms/{site.scene.rooms['room-03']}")
    figure = page.locator("#tension")
    plot, told = figure.locator(".canvas"), figure.locator(".told")
    plot.scroll_into_view_if_needed()
    box = plot.bounding_box()
    assert box is not None
    page.mouse.move(box["x"] + box["width"] * 0.5, box["y"] + 120)
    expect(told).to_contain_text("mbar")
    expect(told).to_contain_text("Pot 0")
    page.mouse.move(5, 5)
    expect(told).to_have_text("")
    plot.focus()
    page.keyboard.press("ArrowLeft")
    first = told.inner_text()
    page.keyboard.press("ArrowLeft")
    expect(told).not_to_have_text(first)
    page.keyboard.press("ArrowDown")
    expect(told).to_contain_text("Pot 0")


def test_one_line_is_looked_at_alone_and_the_time_is_zoomed_by_pointer_and_by_keyboard(site: Site) -> None:
    page = site.open("Mara", 1920, at=f"/rooms/{site.scene.rooms['room-07']}")
    plot, told = page.locator("#tension .canvas"), page.locator("#tension .told")
    legend = page.get_by_role("navigation", name="Show one container alone")
    legend.get_by_role("link", name="Pot 04").click()
    expect(legend.get_by_role("link", name="Pot 04")).to_have_attribute("aria-current", "true")
    plot.focus()
    page.keyboard.press("End")
    expect(told).to_contain_text("Pot 04")
    page.keyboard.press("ArrowDown")
    expect(told).to_contain_text("Pot 04")
    legend.get_by_role("link", name="Pot 04").click()
    plot.focus()
    page.keyboard.press("ArrowDown")
    expect(told).not_to_contain_text("Pot 04")
    whole = page.get_by_role("button", name="Whole time").first
    expect(whole).to_be_hidden()
    page.keyboard.press("+")
    expect(whole).to_be_visible()
    plot.focus()
    page.keyboard.press("Escape")
    expect(whole).to_be_hidden()
    box = plot.bounding_box()
    assert box is not None
    page.mouse.move(box["x"] + 200, box["y"] + 100)
    page.mouse.down()
    page.mouse.move(box["x"] + 600, box["y"] + 100, steps=3)
    page.mouse.up()
    expect(whole).to_be_visible()
    whole.click()
    expect(whole).to_be_hidden()


def test_several_alarms_are_acknowledged_on_a_phone_without_scripts(site: Site) -> None:
    page = site.open("Mara", 390, scripts=False)
    page.get_by_role("link", name="Alarms").click()
    page.get_by_role("checkbox", name="Pot 02 in Room 7").check()
    page.get_by_role("checkbox", name="R3 east in Room 3 is empty").check()
    fits(page)
    page.get_by_role("button", name="Acknowledge those ticked").click()
    expect(page.get_by_text("2 alarms acknowledged.")).to_be_visible()
    expect(page.get_by_role("checkbox")).to_have_count(1)


def test_the_list_of_alarms_follows_what_others_do_and_keeps_what_was_ticked(site: Site) -> None:
    page = site.open("Mara", at="/alarms")
    dry = page.get_by_role("checkbox", name="Pot 02 in Room 7")
    dry.check()
    page.get_by_label("Note").fill("on my way")
    other = site.open("Root", at=f"/alarms/{site.scene.alarms['empty']}")
    other.get_by_role("button", name="Acknowledge").click()
    expect(page.get_by_role("checkbox", name="R3 east in Room 3 is empty")).to_have_count(0, timeout=30_000)
    expect(page.get_by_text("Root has it")).to_be_visible()
    expect(dry).to_be_checked()
    expect(page.get_by_label("Note")).to_have_value("on my way")
    every = page.get_by_role("checkbox", name="Tick all shown")
    expect(every).not_to_be_checked()
    every.check()
    expect(page.get_by_role("checkbox", name="The probe of Pot 05")).to_be_checked()
    page.get_by_role("button", name="Acknowledge those ticked").click()
    expect(page.get_by_text("2 alarms acknowledged.")).to_be_visible()


def test_the_wall_fits_its_screen_and_follows_what_others_do(site: Site) -> None:
    page = site.open("Mara", 1920, at="/wall?look=dark")
    expect(page.get_by_role("heading", level=1)).to_have_text("3 rooms need someone, somebody has 1 other")
    size = page.evaluate("[document.documentElement.scrollWidth, document.documentElement.scrollHeight]")
    assert size[0] <= 1920
    assert size[1] <= 1080
    assert page.evaluate("getComputedStyle(document.documentElement).backgroundColor") == "rgb(18, 23, 21)"
    accessible(page)
    other = site.open("Root", at=f"/alarms/{site.scene.alarms['drift']}")
    other.get_by_role("button", name="Acknowledge").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("2 rooms need someone, somebody has 2 others")


def test_the_wall_shows_long_names_whole_and_cuts_no_room_with_five_that_ask(site: Site) -> None:
    now = datetime.now(UTC)
    with psycopg.connect(site.database_url) as conn:
        conn.execute("UPDATE room SET name = 'Propagation under the stairs, ' || right(slug, 2)")
        for slug in ("room-01", "room-02", "room-04"):
            room = site.scene.rooms[slug]
            pot = conn.execute("SELECT id FROM container WHERE room_id = %s AND slug = 'pot-01'", (room,)).fetchone()
            assert pot is not None
            events.alarm(conn, site.scene.birchwood, room, ("container", pot[0], "Pot 01"), now)
    page = site.open("Root", 1920, at="/wall")
    expect(page.locator(".asking > li")).to_have_count(5)
    expect(page.locator(".others > li")).to_have_count(6)
    cut = page.evaluate("""() => [...document.querySelectorAll(".asking > li, .asking h3, .others > li, .others h3")]
        .filter((one) => one.scrollWidth > one.clientWidth + 1 || one.scrollHeight > one.clientHeight + 1
            || one.getBoundingClientRect().bottom > innerHeight)
        .map((one) => one.textContent)""")
    assert cut == []
    assert page.evaluate("document.documentElement.scrollHeight") <= 1080


def test_a_wall_without_room_for_a_row_of_quiet_rooms_says_how_many_there_are_and_cuts_none(site: Site) -> None:
    with psycopg.connect(site.database_url) as conn:
        conn.execute("UPDATE job_run SET as_of = as_of - interval '10 minutes'")
        conn.execute("UPDATE person SET language = 'de' WHERE name = 'Root'")
    page = site.open("Root", 1920, at="/wall")
    expect(page.get_by_text("Dieser Seite nicht trauen")).to_be_visible()
    expect(page.get_by_text("9 weitere Räume")).to_be_visible()
    expect(page.locator(".others")).to_be_hidden()
    fits(page)


def test_something_is_taken_out_of_service_from_the_room_page_and_the_form_is_accessible(site: Site) -> None:
    page = site.open("Mara", 390, at=f"/rooms/{site.scene.rooms['room-01']}")
    page.get_by_text("Take something out of service").click()
    accessible(page)
    page.locator("#service select[name=part]").select_option("Pot 03")
    page.locator("#service").get_by_label("Why").fill("new emitter")
    page.get_by_role("button", name="Take out of service").click()
    expect(page.locator("#service").get_by_text("Container Pot 03")).to_be_visible()
    accessible(page)
    page.goto("/")
    expect(page.get_by_text("Out of service: container Pot 03")).to_be_visible()


def test_the_status_page_follows_what_others_do_without_a_reload(site: Site) -> None:
    page = site.open("Mara")
    page.evaluate("window.kept = true")
    other = site.open("Root", at=f"/alarms/{site.scene.alarms['drift']}")
    other.get_by_role("button", name="Acknowledge").click()
    expect(other.get_by_text("Root has it").first).to_be_visible()
    expect(page.get_by_role("heading", level=1)).to_have_text(
        "2 rooms need someone, somebody has 2 others", timeout=30_000
    )
    assert page.evaluate("window.kept") is True


def test_the_page_says_when_nobody_watches(site: Site) -> None:
    page = site.open("Mara", 390)
    expect(page.get_by_text("Do not trust this page")).to_have_count(0)
    with psycopg.connect(site.database_url) as conn:
        conn.execute("UPDATE heartbeat SET at = now() - interval '10 minutes' WHERE part = 'watch'")
    page.reload()
    expect(page.get_by_text("Nobody is watching")).to_be_visible()


def test_the_sign_in_is_accessible_and_says_what_is_wrong(site: Site) -> None:
    page = site.browser.new_context(base_url=site.address, locale="en-GB").new_page()
    page.goto("/sign-in")
    page.get_by_label("Name").fill("Mara")
    page.get_by_label("Password").fill("wrong, wrong")
    page.get_by_role("button", name="Sign in").click()
    expect(page.get_by_role("alert")).to_have_text("Name or password is not right.")
    expect(page.get_by_label("Name")).to_have_value("Mara")
    accessible(page)
