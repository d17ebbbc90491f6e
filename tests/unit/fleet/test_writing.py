"""A fleet file that is written reads back to the same declaration."""

from __future__ import annotations

from pathlib import Path

from hypothesis import given, settings

from tests.unit.fleet.declared_places import facilities
from wickwatch.fleet.declared import DeclaredFacility
from wickwatch.fleet.document import parse
from wickwatch.fleet.writing import to_toml

EXAMPLE = (Path(__file__).parents[3] / "deploy" / "fleet-example.toml").read_text()


@given(facilities())
@settings(max_examples=60)
def test_any_facility_reads_back_as_it_was_written(facility: DeclaredFacility) -> None:
    assert parse(to_toml([facility])) == (facility,)


def test_several_facilities_stand_in_one_file() -> None:
    both = (*parse(EXAMPLE), *parse(EXAMPLE.replace("birchwood", "elmtree").replace("0024be", "0024bf")))
    assert parse(to_toml(both)) == both


def test_a_written_file_keeps_what_people_wrote_and_adds_nothing() -> None:
    def keys(text: str) -> list[str]:
        lines = (line.split("#")[0].strip() for line in text.splitlines())
        return sorted(line.split("=")[0].strip() for line in lines if line and "= 0" not in line)

    assert keys(to_toml(parse(EXAMPLE))) == keys(EXAMPLE)
