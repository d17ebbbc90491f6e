"""SenML resolved as RFC 8428 (August 2018) shows it: its own examples and each of its rules.

Figures are the RFC's unless a comment says otherwise. Numbers are compared, not text.
"""

from datetime import UTC, datetime

import cbor2
import pytest

from wickwatch.ingest.forms import CBOR_LABELS
from wickwatch.ingest.pack import Pack, Record
from wickwatch.ingest.reasons import PackRefused
from wickwatch.ingest.senml import parse, resolve

NOW = 1_790_000_000.0

# Sections 5.1.2, 5.1.3, 5.1.4 and 5.1.6.
TWO = b"""[{"bn":"urn:dev:ow:10e2073a01080063:","n":"voltage","u":"V","v":120.1},{"n":"current","u":"A","v":1.2}]"""
CURRENTS = b"""[
 {"bn":"urn:dev:ow:10e2073a0108006:","bt":1.276020076001e+09,"bu":"A","bver":5,"n":"voltage","u":"V","v":120.1},
 {"n":"current","t":-5,"v":1.2},{"n":"current","t":-4,"v":1.3},{"n":"current","t":-3,"v":1.4},
 {"n":"current","t":-2,"v":1.5},{"n":"current","t":-1,"v":1.6},{"n":"current","v":1.7}]"""
MOVING = b"""[
 {"bn":"urn:dev:ow:10e2073a01080063","bt":1.320067464e+09,"bu":"%RH","v":20},{"u":"lon","v":24.30621},
 {"u":"lat","v":60.07965},{"t":60,"v":20.3},{"u":"lon","t":60,"v":24.30622},{"u":"lat","t":60,"v":60.07965},
 {"t":120,"v":20.7},{"u":"lon","t":120,"v":24.30623},{"u":"lat","t":120,"v":60.07966},{"u":"%EL","t":150,"v":98},
 {"t":180,"v":21.2},{"u":"lon","t":180,"v":24.30628},{"u":"lat","t":180,"v":60.07967}]"""
COLLECTION = b"""[
 {"bn":"2001:db8::2/","bt":1.320078429e+09,"n":"temperature","u":"Cel","v":25.2},{"n":"humidity","u":"%RH","v":30},
 {"bn":"2001:db8::1/","n":"temperature","u":"Cel","v":12.3},{"n":"humidity","u":"%RH","v":67}]"""

# Section 6: the second pack above in CBOR, 195 octets.
CURRENTS_CBOR = bytes.fromhex(
    "87a721781b75726e3a6465763a6f773a3130653230373361303130383030363a22fb41d303a15b0010622361412005"
    "0067766f6c7461676501615602fb405e066666666666a3006763757272656e74062402fb3ff3333333333333a30067"
    "63757272656e74062302fb3ff4cccccccccccda3006763757272656e74062202fb3ff6666666666666a30067637572"
    "72656e74062102f93e00a3006763757272656e74062002fb3ff999999999999aa3006763757272656e74060002fb3f"
    "fb333333333333"
)


def utc(*parts: int) -> float:
    return datetime(*parts, tzinfo=UTC).timestamp()  # type: ignore[misc,arg-type]


def plain(pack: Pack) -> list[tuple[object, ...]]:
    assert not pack.faults
    return [(record.name, record.unit, record.value, record.at) for record in pack.records]


def one(*entries: object) -> Record:
    pack = resolve(entries, NOW)
    assert not pack.faults, pack.faults
    return pack.records[-1]


def refused(*entries: object) -> list[tuple[int, str]]:
    return [(fault.number, fault.reason) for fault in resolve(entries, NOW).faults]


def test_two_records_without_a_time_are_now() -> None:
    assert plain(parse(TWO, "json", NOW)) == [
        ("urn:dev:ow:10e2073a01080063:voltage", "V", 120.1, NOW),
        ("urn:dev:ow:10e2073a01080063:current", "A", 1.2, NOW),
    ]


def test_base_time_and_base_unit_hold_for_the_records_that_follow() -> None:
    base = utc(2010, 6, 8, 18, 1, 16) + 0.001
    device = "urn:dev:ow:10e2073a0108006:"
    assert plain(parse(CURRENTS, "json", NOW)) == [
        (device + "voltage", "V", 120.1, pytest.approx(base, abs=1e-6)),
        *[
            (device + "current", "A", amperes, pytest.approx(base - ago, abs=1e-6))
            for ago, amperes in ((5, 1.2), (4, 1.3), (3, 1.4), (2, 1.5), (1, 1.6), (0, 1.7))
        ],
    ]


def test_cbor_resolves_to_the_same_records_as_json() -> None:
    assert len(CURRENTS_CBOR) == 195
    assert parse(CURRENTS_CBOR, "cbor", NOW) == parse(CURRENTS, "json", NOW)


def test_a_base_name_alone_names_every_record() -> None:
    records = parse(MOVING, "json", NOW).records
    start = utc(2011, 10, 31, 13, 24, 24)
    assert {record.name for record in records} == {"urn:dev:ow:10e2073a01080063"}
    assert [(r.at - start, r.unit, r.value) for r in records] == [
        (0, "%RH", 20), (0, "lon", 24.30621), (0, "lat", 60.07965),
        (60, "%RH", 20.3), (60, "lon", 24.30622), (60, "lat", 60.07965),
        (120, "%RH", 20.7), (120, "lon", 24.30623), (120, "lat", 60.07966), (150, "%EL", 98),
        (180, "%RH", 21.2), (180, "lon", 24.30628), (180, "lat", 60.07967),
    ]  # fmt: skip


def test_a_new_base_name_keeps_the_base_time() -> None:
    at = utc(2011, 10, 31, 16, 27, 9)
    assert plain(parse(COLLECTION, "json", NOW)) == [
        ("2001:db8::2/temperature", "Cel", 25.2, at),
        ("2001:db8::2/humidity", "%RH", 30, at),
        ("2001:db8::1/temperature", "Cel", 12.3, at),
        ("2001:db8::1/humidity", "%RH", 67, at),
    ]


@pytest.mark.parametrize(
    ("base_time", "time", "expected"),
    [
        (0, 0, NOW),
        (-10, 0, NOW - 10),
        (0, -1.5, NOW - 1.5),
        (2**28 - 1, 0, NOW + 268_435_455),
        (2**28, 0, utc(1978, 7, 4, 21, 24, 16)),
        (2**28, -1, NOW + 268_435_455),  # derived: it is the sum that counts
        (1, 2**28 - 1, utc(1978, 7, 4, 21, 24, 16)),  # derived
    ],
)
def test_times_that_sum_below_two_to_the_28_count_from_now(base_time: float, time: float, expected: float) -> None:
    assert one({"bn": "a:", "bt": base_time, "n": "b", "t": time, "v": 1}).at == expected


@pytest.mark.parametrize(
    ("entry", "value"),
    [
        ({"bv": 20, "v": 0.5}, 20.5),
        ({"bv": 20}, 20.0),  # a missing value counts as 0
        ({"v": 0.5}, 0.5),  # a missing base value counts as 0
        ({"vs": "open"}, "open"),
        ({"vb": False}, False),
        ({"vd": "aGkgCg"}, b"hi \n"),  # base64 with the URL alphabet, without padding
    ],
)
def test_a_value_is_the_sum_with_its_base_or_one_of_three_other_types(entry: dict[str, object], value: object) -> None:
    assert one({"bn": "a", **entry}).value == value


@pytest.mark.parametrize(
    ("entries", "total"),
    [([{"s": 5}], 5), ([{"bs": 100, "s": 5}], 105), ([{"bs": 100, "v": 1}], 100), ([{"bs": 1, "s": 1}, {"s": 2}], 3)],
)
def test_a_sum_needs_no_value_and_adds_its_base(entries: list[dict[str, object]], total: float) -> None:
    assert one({"bn": "a", **entries[0]}, *entries[1:]).sum == total


@pytest.mark.parametrize("name", ["a", "0", "urn:dev:mac:0024befffe804ff1:tension", "A-Z:a_z/0.9", "x" * 10_000])
def test_a_name_of_the_allowed_characters_is_taken(name: str) -> None:
    assert one({"n": name, "v": 1}).name == name


@pytest.mark.parametrize("name", ["", "_x", "-x", ":x", ".x", "/x", "a b", "a\n", "aé", "a%", "a\u0000"])
def test_a_name_of_other_characters_is_refused(name: str) -> None:
    assert refused({"n": name, "v": 1}, {"n": "good", "v": 2}) == [(0, "name")]


def test_the_start_of_a_name_may_come_from_its_base() -> None:
    assert one({"bn": "a", "n": "_b", "v": 1}).name == "a_b"


@pytest.mark.parametrize(
    "values",
    [{}, {"v": 1, "vs": "x"}, {"vb": True, "vd": ""}, {"v": "1"}, {"v": True}, {"v": None}, {"vs": 1}, {"vs": None},
     {"vb": 0}, {"vb": None}, {"vd": "a+/="}, {"vd": "a"}, {"s": "1"}],
)  # fmt: skip
def test_a_record_has_exactly_one_value_of_its_type(values: dict[str, object]) -> None:
    assert refused({"n": "a", **values}, {"n": "b", "v": 1}) == [(0, "not-senml")]


def test_unknown_labels_are_ignored_unless_they_end_in_an_underscore() -> None:
    assert one({"n": "a", "v": 1, "x": 1}).value == 1
    assert refused({"n": "a", "v": 1, "x_": 1}, {"n": "b", "v": 1}) == [(0, "not-senml")]


def test_nothing_stands_on_a_base_that_must_be_understood_and_is_not() -> None:
    assert refused({"n": "a", "v": 1}, {"bx_": 1, "n": "b", "v": 1}, {"n": "c", "v": 1}) == [
        (1, "not-senml"),
        (2, "not-senml"),
    ]


@pytest.mark.parametrize("version", [1, 5, 10, 26])
def test_a_version_up_to_10_or_with_secondary_units_is_understood(version: int) -> None:
    assert one({"bver": version, "n": "a", "v": 1}, {"n": "b", "v": 2}).value == 2


@pytest.mark.parametrize("version", [11, 18, 42, 58, 0, -1, 10.0, "10", None, True, 2**70])
def test_another_version_refuses_the_whole_pack(version: object) -> None:
    # RFC 9100: 42 is 10 with feature 5, which a reader of feature 4 does not know.
    with pytest.raises(PackRefused) as caught:
        resolve([{"bver": version, "n": "a", "v": 1}, {"n": "b", "v": 1}], NOW)
    assert caught.value.reason == "version"


def test_all_records_of_a_pack_have_the_same_version() -> None:
    assert one({"bver": 26, "n": "a", "v": 1}, {"bver": 26, "n": "b", "v": 2}).value == 2
    assert one({"n": "a", "v": 1}, {"bver": 10, "n": "b", "v": 2}).value == 2  # 10 is the default
    for later in ([{"n": "a", "v": 1}], [{"bver": 10, "n": "a", "v": 1}]):
        with pytest.raises(PackRefused):
            resolve([*later, {"bver": 26, "n": "b", "v": 2}], NOW)


@pytest.mark.parametrize("payload", [b"{}", b'{"n":"a","v":1}', b"1", b"null", b'"text"', b"true"])
def test_a_pack_is_an_array(payload: bytes) -> None:
    with pytest.raises(PackRefused) as caught:
        parse(payload, "json", NOW)
    assert caught.value.reason == "not-senml"


@pytest.mark.parametrize("payload", [b"", b"[", b"[NaN]", b"[Infinity]", b"[1e999]", b"\xff", b"[{'n':1}]", b"[]]"])
def test_what_is_not_json_is_refused(payload: bytes) -> None:
    with pytest.raises(PackRefused) as caught:
        parse(payload, "json", NOW)
    assert caught.value.reason == "not-json"


@pytest.mark.parametrize(
    "payload", [b"", b"\x81", b"\xff", CURRENTS_CBOR[:-1], CURRENTS_CBOR + b"\x00", CURRENTS_CBOR * 2, TWO]
)
def test_what_is_not_one_item_of_cbor_is_refused(payload: bytes) -> None:
    with pytest.raises(PackRefused) as caught:
        parse(payload, "cbor", NOW)
    assert caught.value.reason == "not-cbor"


def test_cbor_labels_are_the_integers_of_table_4() -> None:
    assert CBOR_LABELS == {
        -1: "bver", -2: "bn", -3: "bt", -4: "bu", -5: "bv", -6: "bs",
        0: "n", 1: "u", 2: "v", 3: "vs", 4: "vb", 5: "s", 6: "t", 7: "ut", 8: "vd",
    }  # fmt: skip


def test_text_labels_of_cbor_are_unknown_ones() -> None:
    ignored = cbor2.dumps([{0: "a", 2: 1, "v": 5, "n": "b", -40: 1}])
    assert plain(parse(ignored, "cbor", NOW)) == [("a", None, 1.0, NOW)]
    must = parse(cbor2.dumps([{0: "a", 2: 1, "x_": 1}, {0: "b", 2: 1}]), "cbor", NOW)
    assert [fault.reason for fault in must.faults] == ["not-senml"]
    assert [record.name for record in must.records] == ["b"]


def test_cbor_numbers_may_be_decimal_fractions_and_octets_stay_octets() -> None:
    # RFC 8949, 3.4.4: 273.15 is tag 4 over [-2, 27315].
    pack = b"\x82\xa2\x00\x61\x61\x02" + bytes.fromhex("c48221196ab3") + b"\xa2\x00\x61\x62\x08\x42hi"
    assert [value for _, _, value, _ in plain(parse(pack, "cbor", NOW))] == [273.15, b"hi"]
