"""Whatever octets come, parsing ends in records, faults or one kind of refusal, and good records stay good."""

import math
from typing import Any

import cbor2
import orjson
import pytest
from hypothesis import given
from hypothesis import strategies as st

from wickwatch.ingest.forms import CBOR_LABELS, Form
from wickwatch.ingest.pack import Pack
from wickwatch.ingest.reasons import REASONS, PackRefused
from wickwatch.ingest.senml import parse

NOW = 1_790_000_000.0
INTEGER_LABELS = {label: number for number, label in CBOR_LABELS.items()}

scalars = (
    st.none()
    | st.booleans()
    | st.integers(-(2**70), 2**70)
    | st.floats()
    | st.text(max_size=8)
    | st.sampled_from(["urn:dev:mac:0024befffe804ff1:", "tension", "hPa"])
)
values = st.recursive(
    scalars,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=3), inner, max_size=3),
    max_leaves=6,
)
labels = st.sampled_from([*CBOR_LABELS.values(), "x", "x_", "b_", "bx_", ""]) | st.text(max_size=3)
packs = st.lists(st.dictionaries(labels, values, max_size=6) | values, max_size=6)
good = st.fixed_dictionaries(
    {"bn": st.just("urn:dev:mac:0024befffe804ff1:"), "n": st.just("tension"), "bu": st.just("hPa")},
    optional={"bt": st.floats(2**28, 2e9), "t": st.floats(0, 1e6), "v": st.floats(-1e9, 1e9), "u": st.just("Pa")},
).map(lambda record: {"bt": 1.79e9, "bv": 0.0, "v": 1.0, **record})


def parsed(payload: bytes, form: Form) -> Pack | None:
    """The outcome; `None` where the pack was refused. Any other exception fails the test."""
    try:
        pack = parse(payload, form, NOW)
    except PackRefused as refused:
        assert refused.reason in REASONS
        assert len(refused.detail) < 300
        return None
    for fault in pack.faults:
        assert fault.reason in REASONS
        assert fault.detail.isprintable()
        assert len(fault.detail) < 300
    numbers = [record.number for record in pack.records] + [fault.number for fault in pack.faults]
    assert sorted(numbers) == list(range(len(numbers)))
    return pack


def as_cbor(pack: list[Any]) -> bytes:
    return cbor2.dumps(
        [
            {INTEGER_LABELS.get(k, k): v for k, v in record.items()} if isinstance(record, dict) else record
            for record in pack
        ]
    )


@given(st.binary(max_size=200))
def test_any_octets_as_json(payload: bytes) -> None:
    parsed(payload, "json")


@given(st.binary(max_size=200))
def test_any_octets_as_cbor(payload: bytes) -> None:
    parsed(payload, "cbor")
    parsed(b"\x81" + payload, "cbor")


@given(packs)
def test_any_structure_in_either_form(pack: list[Any]) -> None:
    parsed(as_cbor(pack), "cbor")
    parsed(orjson.dumps(pack, default=str) if _is_json(pack) else b"[]", "json")


@given(st.lists(good, min_size=1, max_size=4))
def test_json_and_cbor_give_the_same_records(pack: list[dict[str, Any]]) -> None:
    json, cbor = parsed(orjson.dumps(pack), "json"), parsed(as_cbor(pack), "cbor")
    assert json is not None
    assert json == cbor
    assert not json.faults


@given(st.lists(good, min_size=1, max_size=4), st.data())
def test_a_bad_record_leaves_every_good_one_as_it_was(pack: list[dict[str, Any]], data: st.DataObject) -> None:
    bad = data.draw(st.sampled_from([None, 5, "x", [], {"n": " ", "v": 1}, {"v": "1"}, {"v": 1, "vs": "x"}, {"x_": 1}]))
    place = data.draw(st.integers(0, len(pack)))
    alone = parsed(orjson.dumps(pack), "json")
    mixed = parsed(orjson.dumps([*pack[:place], bad, *pack[place:]]), "json")
    assert alone is not None
    assert mixed is not None
    assert [fault.number for fault in mixed.faults] == [place]
    assert [record[:5] for record in mixed.records] == [record[:5] for record in alone.records]


@pytest.mark.parametrize("depth", [100, 1000, 100_000])
def test_nesting_without_end_is_refused(depth: int) -> None:
    assert parsed(b"[" * depth, "json") is None
    assert parsed(b"\x81" * depth, "cbor") is None


@pytest.mark.parametrize(
    "octets",
    [
        "9b7fffffffffffffff00",  # an array of 2**63 items
        "5b7fffffffffffffff00",  # 2**63 octets
        "c5821b00000000ffffffff01",  # 2 to the power of 2**32
        "d82363282e2a",  # a regular expression
        "d81c81d81d00",  # an array that holds itself
        "f7",
    ],
)
def test_octets_that_promise_too_much_are_refused(octets: str) -> None:
    pack = parsed(bytes.fromhex("81" + octets), "cbor")
    assert pack is None or not pack.records


def test_numbers_that_are_none_are_kept_for_the_next_check() -> None:
    pack = parsed(cbor2.dumps([{0: "a", 2: math.nan}, {0: "a", 2: -math.inf}, {0: "a", 2: 10**400}]), "cbor")
    assert pack is not None
    assert math.isnan(pack.records[0].value)  # type: ignore[arg-type]
    assert pack.records[1].value == -math.inf
    assert [fault.reason for fault in pack.faults] == ["not-finite"]


def _is_json(value: object) -> bool:
    if isinstance(value, float):
        return math.isfinite(value)
    if isinstance(value, int):
        return -(2**63) <= value < 2**63
    if isinstance(value, dict):
        return all(map(_is_json, value.values()))
    return all(map(_is_json, value)) if isinstance(value, list) else True
