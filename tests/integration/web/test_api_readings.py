"""Readings over the JSON API: raw, in buckets, and packs taken in."""

from __future__ import annotations

from datetime import timedelta

import cbor2
import httpx
import pytest

from tests.builders import place
from tests.integration.web.conftest import NOW, Site

DEVICE = "urn:dev:mac:0024befffe804ff1"


def _channel(site: Site) -> int:
    """A channel of Birchwood with readings of 100, 101 … 111 at five-minute steps up to now."""
    with site.connect() as conn:
        made = place.channel(conn, site.scene.birchwood)
        values = [(NOW - timedelta(minutes=5 * (11 - number)), 100.0 + number) for number in range(12)]
        place.readings(conn, made, values)
    return made


def _get(api: httpx.Client, **params: object) -> httpx.Response:
    return api.get("/api/v1/readings", params=params)  # type: ignore[arg-type]


def test_raw_readings_come_oldest_first_and_page_by_cursor(both_site: Site) -> None:
    api, channel = both_site.program("Otto"), _channel(both_site)
    whole = _get(api, channel=channel).json()
    assert [each["value"] for each in whole["items"]] == [100.0 + number for number in range(11)]
    assert (whole["unit"], whole["quantity"], whole["every_s"]) == ("hPa", "tension", None)
    first = _get(api, channel=channel, limit=4).json()
    second = _get(api, channel=channel, limit=4, cursor=first["next_cursor"]).json()
    assert [each["value"] for each in first["items"] + second["items"]] == [100.0 + number for number in range(8)]


def test_the_end_is_not_included_and_the_beginning_is(shown: Site) -> None:
    api, channel = shown.program("Otto"), _channel(shown)
    start, end = NOW - timedelta(minutes=55), NOW
    items = _get(api, channel=channel, **{"from": start.isoformat(), "to": end.isoformat()}).json()["items"]
    assert items[0] == {"at": "2026-11-25T08:35:00Z", "value": 100.0}
    assert items[-1]["at"] == "2026-11-25T09:25:00Z"


def test_buckets_hold_least_mean_most_and_count(both_site: Site) -> None:
    api, channel = both_site.program("Otto"), _channel(both_site)
    items = _get(api, channel=channel, every=1800, to=(NOW + timedelta(minutes=1)).isoformat()).json()["items"]
    assert items == [
        {"at": "2026-11-25T08:30:00Z", "min": 100.0, "mean": 102.0, "max": 104.0, "count": 5},
        {"at": "2026-11-25T09:00:00Z", "min": 105.0, "mean": 107.5, "max": 110.0, "count": 6},
        {"at": "2026-11-25T09:30:00Z", "min": 111.0, "mean": 111.0, "max": 111.0, "count": 1},
    ]


def test_buckets_page_without_splitting_one(shown: Site) -> None:
    api, channel = shown.program("Otto"), _channel(shown)
    first = _get(api, channel=channel, every=1800, limit=1).json()
    second = _get(api, channel=channel, every=1800, limit=1, cursor=first["next_cursor"]).json()
    assert [first["items"][0]["count"], second["items"][0]["count"]] == [5, 6]


def test_a_channel_is_known_by_its_name(shown: Site) -> None:
    api, channel = shown.program("Otto"), _channel(shown)
    with shown.connect() as conn:
        row = conn.execute("SELECT name FROM channel WHERE id = %s", (channel,)).fetchone()
    assert row is not None
    assert _get(api, channel=row[0]).json()["channel"] == str(channel)


def test_a_foreign_channel_is_404_by_id_and_by_name(shown: Site) -> None:
    with shown.connect() as conn:
        foreign = place.channel(conn, shown.scene.saltmarsh)
        row = conn.execute("SELECT name FROM channel WHERE id = %s", (foreign,)).fetchone()
    assert row is not None
    api = shown.program("Otto")
    for name in (foreign, row[0], 999999, "2147483648", "99999999999999999999", "nothing:here", "\0"):
        assert _get(api, channel=name).status_code == 404


@pytest.mark.parametrize(
    "params",
    [
        {"from": "2026-11-25T10:00:00Z", "to": "2026-11-25T09:00:00Z"},
        {"every": 0},
        {"every": "hour"},
        {"from": "2026-11-25"},
        {"limit": -1},
        {"cursor": "zzz"},
    ],
)
def test_values_that_cannot_be_meant_are_422(shown: Site, params: dict[str, object]) -> None:
    assert _get(shown.program("Otto"), channel=_channel(shown), **params).status_code == 422


def _post(
    api: httpx.Client, content: bytes, media_type: str = "application/senml+json", **params: str
) -> httpx.Response:
    return api.post(
        "/api/v1/readings",
        params={"facility": "birchwood", "gateway": "http-01", **params},
        content=content,
        headers={"Content-Type": media_type},
    )


_FIRST = b'{"bn":"urn:dev:mac:0024befffe804ff1:","bt":1795597200,"n":"tension","u":"hPa","v":103.5}'
PACK = b"[" + _FIRST + b',{"n":"battery","u":"%EL","v":88}]'


def test_a_pack_is_stored_and_its_channel_waits_to_be_attached(both_site: Site) -> None:
    root = both_site.program("Root")
    assert _post(root, PACK).json() == {"stored": 2, "duplicates": 0, "conflicts": 0, "rejected": []}
    assert _post(root, PACK).json() == {"stored": 0, "duplicates": 2, "conflicts": 0, "rejected": []}
    waiting = root.get("/api/v1/channels", params={"attached": "false", "facility": "birchwood"}).json()["items"]
    assert f"{DEVICE}:tension" in [channel["name"] for channel in waiting]
    assert next(channel["gateway"] for channel in waiting if channel["name"].startswith(DEVICE)) == "http-01"


def test_a_pack_may_come_as_cbor(shown: Site) -> None:
    pack = cbor2.dumps([{-2: f"{DEVICE}:", -3: 1795597200, 0: "tension", 1: "hPa", 2: 99.0}])
    assert _post(shown.program("Root"), pack, "application/senml+cbor").json()["stored"] == 1


def test_good_records_of_a_pack_are_stored_beside_bad_ones(site: Site) -> None:
    pack = b"[" + _FIRST + b',{"n":"battery","u":"hPa","v":88}]'
    answer = _post(site.program("Root"), pack)
    assert answer.status_code == 200
    assert answer.json()["stored"] == 1
    assert answer.json()["rejected"][0]["records"] == 1


@pytest.mark.parametrize("content", [b"", b"not json", b"[]", b"{}", b'[{"n":"x","v":1}]', b"\xff\xfe"])
def test_a_pack_of_which_nothing_can_be_taken_is_422_and_in_quarantine(site: Site, content: bytes) -> None:
    answer = _post(site.program("Root"), content)
    if answer.status_code == 200:
        assert answer.json() == {"stored": 0, "duplicates": 0, "conflicts": 0, "rejected": []}
        assert content == b"[]"
        return
    assert answer.status_code == 422
    assert answer.json()["errors"]
    with site.connect() as conn:
        row = conn.execute("SELECT count(*) FROM quarantine WHERE facility_id = %s", (site.scene.birchwood,)).fetchone()
    assert row == (1,)


def test_a_pack_must_be_senml_and_no_longer_than_two_megabytes(shown: Site) -> None:
    root = shown.program("Root")
    assert _post(root, PACK, "text/plain").status_code == 415
    assert _post(root, b" " * (2 * 1024 * 1024 + 1)).status_code == 413


def test_packs_are_taken_from_managers_of_the_facility_only(shown: Site) -> None:
    assert _post(shown.program("Mara"), PACK).status_code == 403
    assert _post(shown.program("Ines"), PACK).status_code == 404
    assert _post(shown.program("Ines"), PACK, facility="saltmarsh").status_code == 200
