"""The health page: what it tells, and to whom."""

from __future__ import annotations

from datetime import timedelta
from zoneinfo import ZoneInfo

import httpx
import orjson

from tests.builders import place
from tests.integration.web.conftest import NOW, Site, later
from tests.integration.web.test_pages import Seen, form_token
from wickwatch.ingest.accept import heard
from wickwatch.store import channels, jobs, people, quarantine
from wickwatch.store.quarantine import Quarantined
from wickwatch.watch import JOB


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
        probe = place.channel(conn, site.scene.birchwood)
        beside = "UPDATE channel SET device_id = (SELECT device_id FROM channel WHERE id = %s) WHERE id = %s"
        conn.execute(beside, (battery, probe))
        pot = place.container(conn, site.scene.rooms["room-03"], "pot-77")
        place.attach(conn, probe, "container", pot, NOW - timedelta(days=1))
        jobs.record(conn, JOB, site.scene.birchwood, NOW, NOW, False, "OutOfMemory: <b>no room</b>")
        for gateway, status in (("gw-01", "online"), ("gw-02", "offline")):
            conn.execute("UPDATE gateway SET status = %s, status_at = %s WHERE slug = %s", (status, NOW, gateway))
        conn.execute("UPDATE heartbeat SET healthy = false, detail = '{\"why\": \"no broker\"}' WHERE part = 'ingest'")
        jobs.beat(conn, "watch", "second:7")
    text = Seen(site.browser("Root").get("/health").text).text
    assert "3 things to look at" in text  # ingest, gw-02, the battery
    assert "Judges readings watch 2 copies alive" in text
    assert "Regular look at all readings, Birchwood House sweep last succeeded" in text
    assert "; says it is online since 10:30" in text and "; says it is offline since 10:30" in text
    assert "no broker" in text
    assert "failed 1 time in a day, last 10:30: OutOfMemory: <b>no room</b>" in text
    assert "heard 5 h ago" in text
    assert "Pot 77, Room 3 9 %, read 3 min ago Birchwood House · urn:dev:mac:" in text.replace("to look at ", "")
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
    assert "<b>Not readable as JSON</b> <code>not-json</code>" in page
    assert "The payload is not JSON (RFC 8259)" in page
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
        jobs.record(conn, JOB, site.scene.birchwood, NOW, NOW, False, "secret failure")
        people.add_person(conn, "Hugo", "administrator", ["saltmarsh"], None)
    for name in ("Ines", "Hugo"):
        page = site.browser(name).get("/health").text
        for word in ("secret of birchwood", "secret of nobody", "gw-birchwood", "secret failure", "Birchwood"):
            assert word not in page, (name, word)
    assert "secret of nobody" in site.browser("Root").get("/health").text


def _press(browser: httpx.Client, path: str, **fields: str) -> httpx.Response:
    """A button of the quarantine."""
    fields["form_token"] = form_token(browser.get("/me").text)
    return browser.post(f"/health/quarantine/{path}", data=fields)


def _again(browser: httpx.Client, path: str, **fields: str) -> str:
    """The quarantine after a button of it was pressed."""
    answer = _press(browser, path, **fields)
    assert answer.status_code == 303
    return Seen(browser.get(answer.headers["location"]).text).text


def _values(site: Site, urn: str) -> list[tuple[str, float]]:
    """What is stored of a device, by the hour and minute of the facility's clock."""
    with site.connect() as conn:
        return conn.execute(
            "SELECT to_char(r.at AT TIME ZONE 'Europe/Oslo', 'HH24:MI'), r.value FROM reading r"
            " JOIN channel c ON c.id = r.channel_id JOIN device d ON d.id = c.device_id WHERE d.urn = %s ORDER BY r.at",
            (urn,),
        ).fetchall()


URN = "urn:dev:mac:0024befffe804aa1"


def test_a_pack_of_a_facility_that_is_known_by_now_is_taken_in_with_its_times_true(site: Site) -> None:
    topic = "wickwatch/1/fernhill/gw-01/senml"
    pack = orjson.dumps([{"bn": f"{URN}:", "n": "tension", "u": "hPa", "v": 100, "t": -60}])
    came = NOW - timedelta(hours=2)
    with site.connect() as conn:
        quarantine.add(conn, [Quarantined(came, None, topic, pack, "unknown-facility", "", 1)])
    root = site.browser("Root")
    said = _again(root, "again", reason="unknown-facility")
    assert "1 refused pack tried again: 0 taken in, 1 refused as before." in said
    assert "Tried 09:30 : refused as before." in Seen(root.get("/health").text).text
    with site.connect() as conn:
        place.facility(conn, "fernhill", "Fernhill")
    later(site, minutes=1)
    said = _again(root, "again", reason="unknown-facility")
    assert "1 refused pack tried again: 1 taken in, 0 refused as before." in said
    assert "1 reading stored" in said
    # Its time is a minute before it came, not before it was tried again.
    assert _values(site, URN) == [(f"{(came - timedelta(minutes=1)).astimezone(ZoneInfo('Europe/Oslo')):%H:%M}", 100.0)]
    later(site, minutes=1)
    assert "Nothing of this could be tried again." in _again(root, "again", reason="unknown-facility")


def test_what_of_a_pack_is_refused_for_other_reasons_stays_with_its_payload_and_nothing_is_counted_twice(
    site: Site,
) -> None:
    topic, pack = "wickwatch/1/birchwood/gw-01/senml", orjson.dumps([
        {"bn": f"{URN}:", "n": "tension", "u": "hPa", "v": 100},
        {"n": "tension", "u": "hPa", "v": 101, "t": -60},
        {"n": "colour", "v": 3},
    ])  # fmt: skip
    with site.connect() as conn:
        # A reason of before, such as a rule that is no longer.
        quarantine.add(conn, [Quarantined(NOW, site.scene.birchwood, topic, pack, "name", "", 3)])
        (id,) = conn.execute("SELECT max(id) FROM quarantine").fetchone() or (0,)
    root = site.browser("Root")
    _again(root, f"{id}/again")
    assert [value for _, value in _values(site, URN)] == [101.0, 100.0]
    with site.connect() as conn:
        rows = conn.execute("SELECT reason, records, taken_at IS NULL, payload FROM quarantine").fetchall()
        counted = conn.execute("SELECT reason, records FROM quarantine_count").fetchall()
    assert rows == [("quantity", 1, True, pack)]
    assert counted == [("name", 3)]
    audit = Seen(root.get("/audit").text).text
    assert "Try one refused pack again, by the rules of today" in audit


def test_a_pack_refused_for_two_reasons_brings_its_readings_once(site: Site) -> None:
    topic = "wickwatch/1/birchwood/gw-01/senml"
    pack = orjson.dumps([{"bn": f"{URN}:", "n": "tension", "u": "hPa", "v": v, "t": -v} for v in (100, 60)])
    with site.connect() as conn:
        # Reasons of before, such as rules that are no longer.
        both = [Quarantined(NOW, site.scene.birchwood, topic, pack, reason, "", 1) for reason in ("name", "unit")]
        quarantine.add(conn, both)
        (id,) = conn.execute("SELECT max(id) FROM quarantine").fetchone() or (0,)
    _again(site.browser("Root"), f"{id}/again")
    with site.connect() as conn:
        rows = conn.execute("SELECT taken_at IS NOT NULL, stored FROM quarantine ORDER BY id").fetchall()
    assert rows == [(True, 2), (True, 0)]


def test_an_old_pack_leaves_a_device_at_the_gateway_that_brings_it_now(site: Site) -> None:
    with site.connect() as conn:
        now_at = channels.gateway(conn, site.scene.birchwood, "gw-02")
        channels.register(conn, site.scene.birchwood, now_at, [heard(f"{URN}:tension", "hPa")])
        pack = orjson.dumps([{"bn": f"{URN}:", "n": "tension", "u": "hPa", "v": 100}])
        topic = "wickwatch/1/birchwood/gw-01/senml"
        quarantine.add(conn, [Quarantined(NOW, site.scene.birchwood, topic, pack, "name", "", 1)])
        (id,) = conn.execute("SELECT max(id) FROM quarantine").fetchone() or (0,)
    _again(site.browser("Root"), f"{id}/again")
    assert [value for _, value in _values(site, URN)] == [100.0]
    with site.connect() as conn:
        (at,) = conn.execute("SELECT gateway_id FROM device WHERE urn = %s", (URN,)).fetchone() or (None,)
    assert at == now_at


def test_a_payload_of_which_only_the_beginning_was_kept_is_not_tried(site: Site) -> None:
    topic, pack = "wickwatch/1/birchwood/gw-01/senml", b"[" + b" " * quarantine.KEPT_BYTES + b"]"
    with site.connect() as conn:
        quarantine.add(conn, [Quarantined(NOW, site.scene.birchwood, topic, pack, "not-json", "", 1)])
        (id,) = conn.execute("SELECT max(id) FROM quarantine").fetchone() or (0,)
    root = site.browser("Root")
    page = root.get("/health").text
    assert "It was too large to be kept whole" in page
    assert _press(root, f"{id}/again").status_code == 404


def test_nobody_tries_again_what_another_facility_refused(site: Site) -> None:
    topic = "wickwatch/1/birchwood/gw-01/senml"
    with site.connect() as conn:
        quarantine.add(conn, [Quarantined(NOW, site.scene.birchwood, topic, b"[]", "not-senml", "", 1)])
        (id,) = conn.execute("SELECT max(id) FROM quarantine").fetchone() or (0,)
    ines = site.browser("Ines")
    assert _press(ines, f"{id}/again").status_code == 404
    assert "Nothing of this could be tried again." in _again(ines, "again", reason="not-senml")
