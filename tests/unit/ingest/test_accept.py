"""Which records become readings, judged without a database."""

import math

import pytest

from wickwatch.agronomy.units import QUANTITIES
from wickwatch.ingest.accept import AHEAD_S, MAX_PAYLOAD_BYTES, Columns, Slot, accept, check_size, heard, slot, window
from wickwatch.ingest.pack import Pack, Record
from wickwatch.ingest.reasons import REASONS, PackRefused
from wickwatch.store.channels import Channel

NOW = 1_790_000_000.0
NAME = "urn:dev:mac:0024befffe804ff1:tension"
TENSION = Channel(7, NAME, "tension", "mbar", None, None)
LEVEL = Channel(8, "urn:dev:mac:0024befffe804fa1:level", "level", "mm", None, None)


def record(value: object = 100.0, *, at: float = NOW, unit: str | None = "hPa", name: str = NAME) -> Record:
    return Record(name, unit, value, at, None, 3)  # type: ignore[arg-type]


def packed(*records: Record) -> Pack:
    pack = Pack()
    for each in records:
        pack.add(each)
    return pack


def reason(given: Record, channel: Channel = TENSION) -> str | None:
    """Why a record of a known channel is refused; None where it is stored."""
    columns = Columns()
    slots = {(given.name, given.unit): slot(channel, given.unit or "")}
    unknown, faults = accept(packed(given), slots, window(NOW, 400), columns)
    assert not unknown
    assert len(columns.values) + len(faults) == 1
    return faults[0].reason if faults else None


def refusal(name: str, unit: str | None) -> str:
    with pytest.raises(PackRefused) as caught:
        heard(name, unit)
    return caught.value.reason


def test_a_record_becomes_a_reading_in_its_channels_unit() -> None:
    columns = Columns()
    slots = {(NAME, "kPa"): slot(TENSION, "kPa")}
    assert accept(packed(record(10.5, unit="kPa")), slots, window(NOW, 400), columns) == ([], [])
    assert columns == Columns([7], [NOW], [105.0])


def test_a_record_without_a_slot_is_handed_back_untouched() -> None:
    columns = Columns()
    assert accept(packed(record()), {}, window(NOW, 400), columns) == ([record()], [])
    assert columns == Columns()


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf, "100", True, b"", None])
def test_a_value_that_is_not_a_finite_number_is_refused(value: object) -> None:
    assert reason(record(value)) == "not-finite"


@pytest.mark.parametrize(
    ("value", "expected"),
    [(-100, None), (2000, None), (-100.1, "out-of-range"), (2000.1, "out-of-range"), (1e300, "out-of-range")],
)
def test_a_value_is_within_what_tension_can_be_both_ends_included(value: float, expected: str | None) -> None:
    assert reason(record(float(value))) == expected


def test_a_value_that_overflows_in_its_own_unit_is_refused() -> None:
    assert reason(record(1e308, unit="kPa")) == "not-finite"


@pytest.mark.parametrize(
    ("at", "expected"),
    [
        (NOW + AHEAD_S, None),
        (NOW + AHEAD_S + 1, "future"),
        (1e18, "future"),
        (NOW - 400 * 86400, None),
        (NOW - 400 * 86400 - 1, "too-old"),
        (-1e18, "too-old"),
        (math.nan, "not-finite"),
    ],
)
def test_a_time_is_at_most_five_minutes_ahead_and_within_retention(at: float, expected: str | None) -> None:
    assert reason(record(at=at)) == expected


def test_the_first_fault_tells_which_record_and_what_is_possible() -> None:
    slots = {(NAME, "hPa"): slot(TENSION, "hPa")}
    (fault,) = accept(packed(record(5000.0)), slots, window(NOW, 400), Columns())[1]
    assert (fault.number, fault.detail) == (3, f"'{NAME}' is 5000; possible are -100 to 2000")


def test_a_level_as_a_ratio_needs_the_channels_full_scale() -> None:
    with pytest.raises(PackRefused) as caught:
        slot(LEVEL, "/")
    assert caught.value.reason == "no-full-scale"
    assert slot(LEVEL._replace(full_scale_mm=900.0), "/").scale == 900.0


def test_a_channel_is_kept_in_the_unit_it_began_with() -> None:
    volts = Channel(9, "urn:dev:x:battery", "battery", "V", None, None)
    assert slot(volts, "V") == Slot(9, 1.0, 0.0, 0.0, 60.0)
    with pytest.raises(PackRefused) as caught:
        slot(volts, "%EL")
    assert caught.value.reason == "unit"


@pytest.mark.parametrize("quantity", QUANTITIES)
def test_a_name_is_taken_apart_for_every_quantity_and_unit(quantity: str) -> None:
    for unit in QUANTITIES[quantity].accepted_units:
        name, device, found, kept = heard(f"urn:dev:mac:0024befffe804ff1:{quantity}", unit)
        assert (device, found) == ("urn:dev:mac:0024befffe804ff1", quantity)
        assert name == f"{device}:{quantity}"
        assert kept in (QUANTITIES[quantity].stored_unit, "V")


@pytest.mark.parametrize("name", ["tension", ":tension", "x" * 10_000, "x" * 10_000 + ":tension", "a b:tension", ""])
def test_a_name_without_a_device_or_with_one_too_long_is_refused(name: str) -> None:
    assert refusal(name, "hPa") == "name"


@pytest.mark.parametrize("name", ["a:", "a:pressure", "a:Tension", "a:tension/2", "a:" + "x" * 10_000])
def test_a_quantity_that_is_not_kept_is_refused(name: str) -> None:
    assert refusal(name, "hPa") == "quantity"


@pytest.mark.parametrize("unit", [None, "", "psi", "hpa", "Cel", "%EL", "x" * 10_000])
def test_a_unit_of_another_quantity_is_refused(unit: str | None) -> None:
    assert refusal(NAME, unit) == "unit"


def test_a_payload_is_at_most_a_mebibyte() -> None:
    check_size(bytes(MAX_PAYLOAD_BYTES))
    with pytest.raises(PackRefused) as caught:
        check_size(bytes(MAX_PAYLOAD_BYTES + 1))
    assert caught.value.reason == "too-large"


def test_every_reason_says_what_is_accepted() -> None:
    assert all(len(text) > 20 for text in REASONS.values())
