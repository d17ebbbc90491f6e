"""Units as published: RFC 8428 (table of SenML units) and RFC 8798 (secondary units: value * scale + offset)."""

import pytest

from wickwatch.agronomy.units import QUANTITIES
from wickwatch.ingest.accept import Columns, accept, slot, window
from wickwatch.ingest.senml import resolve
from wickwatch.store.channels import Channel

NOW = 1_790_000_000.0


def stored(quantity: str, unit: str, value: float, version: int | None = None) -> float:
    """The value kept of one record in `unit`."""
    entry: dict[str, object] = {"n": f"urn:dev:mac:0024befffe804ff1:{quantity}", "u": unit, "v": value}
    pack = resolve([entry if version is None else {"bver": version, **entry}], NOW)
    (record,) = pack.records
    channel = Channel(1, record.name, quantity, QUANTITIES[quantity].stored_unit, 900.0, None)
    columns = Columns()
    assert accept(pack, {(record.name, unit): slot(channel, unit)}, window(NOW, 1), columns) == ([], [])
    return columns.values[0]


@pytest.mark.parametrize(
    ("quantity", "secondary", "primary", "scale"),
    [
        # RFC 8798, table of secondary units
        ("tension", "hPa", "Pa", 100.0),
        ("level", "mm", "m", 1 / 1000),
        ("level", "cm", "m", 1 / 100),
    ],
)
@pytest.mark.parametrize("version", [None, 10, 26])
def test_a_secondary_unit_is_its_scale_of_the_primary_one_with_and_without_the_version_of_rfc_9100(
    quantity: str, secondary: str, primary: str, scale: float, version: int | None
) -> None:
    assert stored(quantity, secondary, 103.5, version) == pytest.approx(
        stored(quantity, primary, 103.5 * scale), rel=1e-12
    )


@pytest.mark.parametrize(
    ("quantity", "unit", "value", "expected"),
    [
        ("tension", "Pa", 10_350.0, 103.5),  # 1 mbar = 1 hPa = 100 Pa, by definition
        ("tension", "kPa", 10.35, 103.5),
        ("tension", "cbar", 10.35, 103.5),  # 1 cbar = 1 kPa, by definition
        ("level", "m", 0.4125, 412.5),
        ("level", "/", 0.5, 450.0),  # of the full scale of 900 mm given above
        ("flow", "l/s", 0.25, 0.00025),  # RFC 8428 advises m3/s; 1 l = 0.001 m3
        ("temperature", "Cel", 21.5, 21.5),
        ("humidity", "%RH", 65.0, 65.0),
        ("battery", "%EL", 88.0, 88.0),
    ],
)
def test_every_unit_of_a_quantity_is_kept_as_the_first(quantity: str, unit: str, value: float, expected: float) -> None:
    assert stored(quantity, unit, value) == pytest.approx(expected, rel=1e-12)
