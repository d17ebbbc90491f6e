"""The health page: what it tells, and to whom."""

from __future__ import annotations

from datetime import timedelta

from tests.builders import place
from tests.integration.web.conftest import NOW, Site
from tests.integration.web.test_pages import Seen
from wickwatch.store import jobs, people, quarantine
from wickwatch.store.quarantine import Quarantined


def test_managers_see_the_health_of_their_facilities_and_others_are_told_what_it_needs(site: Site) -> None:
    for name, status in (("Ines", 200), ("Root", 200), ("Mara", 403), ("Otto", 403)):
        browser = site.browser(name)
        assert browser.get("/health").status_code == status
        assert ('href="/health"' in browser.get("/").text) == (status == 200)


def test_parts_jobs_gateways_batteries_and_sizes_are_told_with_what_is_wrong(site: Site) -> None:
    with site.connect() as conn:
        place.gateway(conn, site.scene.birchwood, "gw-01", NOW)
        place.gateway(conn, site.scene.birchwood, "gw-02", NOW - timedelta(hours=5))
        battery = place.channel(conn, site.scene.birchwood, "battery")
        place.readings(conn, battery, [(NOW - timedelta(minutes=3), 9.0)])
        jobs.record(conn, "sweep", site.scene.birchwood, NOW, NOW, False, "OutOfMemory: <b>no room</b>")
        conn.execute("UPDATE heartbeat SET healthy = false, detail = '{\"why\": \"no broker\"}' WHERE part = 'ingest'")
        jobs.beat(conn, "watch", "second:7")
    text = Seen(site.browser("Root").get("/health").text).text
    assert "3 things to look at" in text  # ingest, gw-02, the battery
    assert "Judges readings: 2 copies alive" in text
    assert "no broker" in text
    assert "failed 1 time in a day, last 10:30: OutOfMemory: <b>no room</b>" in text
    assert "heard 5 h ago" in text
    assert "9 %, read 3 min ago" in text
    assert "GB free where the pages are served" in text
    assert "PostgreSQL" in text


def test_what_was_refused_is_shown_with_its_reason_as_text_and_bounded(site: Site) -> None:
    topic = "wickwatch/1/birchwood/gw-01/senml"
    with site.connect() as conn:
        rows = [
            Quarantined(NOW, site.scene.birchwood, topic, b"<script>1</script>" + b"x" * 5000, "not-json", "at 0", 1),
            Quarantined(NOW, site.scene.birchwood, topic, bytes(range(256)), "not-cbor", "", 2),
        ]
        quarantine.add(conn, rows)
        quarantine.add(conn, [rows[1]._replace(reason="unit", detail=f"record {n}") for n in range(30)])
    browser = site.browser("Root")
    page = browser.get("/health?reason=not-json").text
    assert "<script>1" not in page
    assert "&lt;script&gt;1&lt;/script&gt;xxx" in page
    assert "x" * 2000 not in page
    assert "the first 2000 of 5018 octets" in page
    assert "the payload is not JSON (RFC 8259)" in page
    assert "0001 0203" in browser.get("/health?reason=not-cbor").text
    first = browser.get("/health?reason=unit").text
    assert first.count("<pre") == 25
    older = first.partition('class="more" href="')[2].partition("#")[0].replace("&amp;", "&")
    assert browser.get(f"/health{older}").text.count("<pre") == 5


def test_nothing_of_another_facility_is_on_the_health_page(site: Site) -> None:
    with site.connect() as conn:
        quarantine.add(
            conn,
            [
                Quarantined(NOW, site.scene.birchwood, "t", b"secret of birchwood", "unit", "", 1),
                Quarantined(NOW, None, "t", b"secret of nobody", "unknown-facility", "", 1),
            ],
        )
        place.gateway(conn, site.scene.birchwood, "gw-birchwood", NOW)
        jobs.record(conn, "sweep", site.scene.birchwood, NOW, NOW, False, "secret failure")
        people.add_person(conn, "Hugo", "administrator", ["saltmarsh"], None)
    for name in ("Ines", "Hugo"):
        page = site.browser(name).get("/health").text
        for word in ("secret of birchwood", "secret of nobody", "gw-birchwood", "secret failure", "Birchwood"):
            assert word not in page, (name, word)
    assert "secret of nobody" in site.browser("Root").get("/health").text
