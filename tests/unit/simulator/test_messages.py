"""SenML packs say what the chunk says, and gateways only change when it arrives."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import cbor2
import numpy as np
import pytest

from tests.unit.simulator.houses import house
from wickwatch.errors import InputError
from wickwatch_simulator import Chunk, Simulation, senml_packs
from wickwatch_simulator.gateways import Courier
from wickwatch_simulator.senml import CBOR_LABELS, Pack, packs_by_gateway


@pytest.fixture
def chunk(tmp_path: Path) -> Chunk:
    sim = Simulation(house(tmp_path, rooms=2, days=0.5))
    return next(sim.run(sim.scenario.start, sim.scenario.end, 600, rows=5000))


def resolved(pack: list[dict[str, Any]]) -> list[tuple[str, float, float, str]]:
    """Name, time, value and unit of each record by RFC 8428 section 4.6: base fields hold until the next."""
    name, time, found = "", 0.0, []
    for record in pack:
        name, time = record.get("bn", name), record.get("bt", time)
        found.append((name + record["n"], time + record.get("t", 0), record["v"], record["u"]))
    return found


def expected(chunk: Chunk, facility: str, gateway: str) -> set[tuple[str, float, float, str]]:
    number = [(f, g.slug) for f, g in chunk.channels.gateways].index((facility, gateway))
    own = chunk.channels.gateway[chunk.channel] == number
    at = chunk.at[own].astype(np.int64) / 1e6
    channels = chunk.channel[own]
    return {
        (chunk.channels.names[c], t, v, chunk.channels.units[c])
        for c, t, v in zip(channels.tolist(), at.tolist(), chunk.value[own].tolist(), strict=True)
    }


def test_json_packs_carry_every_reading_of_their_gateway_once(chunk: Chunk) -> None:
    packs = senml_packs(chunk, "alderholm", "gw-02")
    assert {topic for topic, _ in packs} == {"wickwatch/1/alderholm/gw-02/senml"}
    parsed = [json.loads(payload) for _, payload in packs]
    assert all(pack[0]["bver"] == 26 and 1 <= len(pack) <= 20 for pack in parsed)
    records = [record for pack in parsed for record in resolved(pack)]
    assert len(records) == len(set(records))
    assert set(records) == expected(chunk, "alderholm", "gw-02")


def test_cbor_packs_say_the_same_in_the_rfc_s_labels(chunk: Chunk) -> None:
    names = {label: name for name, label in CBOR_LABELS.items()}
    packs = senml_packs(chunk, "alderholm", "gw-01", cbor=True)
    assert packs[0][0].endswith("/senml-cbor")
    parsed = [[{names[k]: v for k, v in record.items()} for record in cbor2.loads(payload)] for _, payload in packs]
    assert {record for pack in parsed for record in resolved(pack)} == expected(chunk, "alderholm", "gw-01")


def test_every_unit_is_one_the_contract_takes_first(chunk: Chunk) -> None:
    units = {
        name.rsplit(":", 1)[1]: unit for name, unit in zip(chunk.channels.names, chunk.channels.units, strict=True)
    }
    assert units == {"tension": "hPa", "level": "mm", "temperature": "Cel", "humidity": "%RH", "battery": "%EL"}


def test_a_gateway_nobody_has_is_refused_with_those_there_are(chunk: Chunk) -> None:
    with pytest.raises(InputError, match=r"alderholm/gw-09.*alderholm/gw-01"):
        senml_packs(chunk, "alderholm", "gw-09")


def arrivals(tmp_path: Path, gateway: str) -> tuple[list[Pack], list[Pack]]:
    """Packs as gathered and as they arrive."""
    sim = Simulation(house(tmp_path, days=0.5, gateway=gateway))
    chunk = next(sim.run(sim.scenario.start, sim.scenario.end, 60, rows=10**9))
    packs = list(packs_by_gateway(chunk))
    courier = Courier(sim.channels.gateways, 5)
    courier.take(packs)
    return [p for _, p in packs], [p for _, p in courier.arrived(float("inf"))]


def test_a_plain_gateway_delivers_in_order_and_once(tmp_path: Path) -> None:
    sent, came = arrivals(tmp_path, "")
    assert came == sent


def test_a_repeating_gateway_delivers_some_twice_and_loses_none(tmp_path: Path) -> None:
    sent, came = arrivals(tmp_path, "repeat_share = 0.1")
    assert set(came) == set(sent)
    assert 0.05 < len(came) / len(sent) - 1 < 0.15


def test_a_reordering_gateway_delivers_all_but_not_in_order(tmp_path: Path) -> None:
    sent, came = arrivals(tmp_path, "reorder_share = 0.1")
    assert sorted(came, key=lambda p: (p.gathered_s, p.payload)) == sorted(
        sent, key=lambda p: (p.gathered_s, p.payload)
    )
    assert came != sent


def test_a_batching_gateway_sends_no_reading_of_two_windows_together(tmp_path: Path) -> None:
    _, came = arrivals(tmp_path, "batch_s = 900")
    windows = [{int(t // 900) for _, t, _, _ in resolved(json.loads(pack.payload))} for pack in came]
    assert all(len(window) == 1 for window in windows)


def test_a_wrong_clock_shifts_every_time_by_as_much(tmp_path: Path) -> None:
    def times(gateway: str) -> np.ndarray:  # type: ignore[type-arg]
        sim = Simulation(house(tmp_path, days=0.2, gateway=gateway))
        return next(sim.run(sim.scenario.start, sim.scenario.end, 60)).at

    assert np.unique(times("clock_s = 90") - times("")).tolist() == [np.timedelta64(90, "s")]


def test_a_losing_gateway_loses_its_share(tmp_path: Path) -> None:
    def rows(gateway: str) -> int:
        sim = Simulation(house(tmp_path, days=0.5, gateway=gateway))
        return sum(len(c) for c in sim.run(sim.scenario.start, sim.scenario.end, 60))

    assert rows("drop_share = 0.05") / rows("") == pytest.approx(0.95, abs=0.01)
