"""Publishing a simulated fleet to a broker, in real time, faster, or as fast as the broker takes it.

A reading is never published before its own time has come, whatever the speed: watchers rightly refuse the future.
Not here: connections (`broker`), packs (`senml`), and what happens on the way (`gateways`).
"""

from __future__ import annotations

import math
import threading
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from wickwatch import log
from wickwatch.errors import InputError, UnavailableError
from wickwatch_simulator.broker import Address, Connection, Credentials
from wickwatch_simulator.gateways import Courier
from wickwatch_simulator.senml import packs_by_gateway
from wickwatch_simulator.simulation import Simulation

#: Longest stretch simulated before it is sent, so that speed and memory stay even.
STRETCH = timedelta(hours=1)


@dataclass(frozen=True)
class Pace:
    """How fast simulated time goes; `speed` infinite is as fast as possible. Real time once the present is reached."""

    speed: float = 1.0

    def due(self, at: datetime, began_at: datetime, began: datetime) -> datetime:
        """When a simulated moment may be published, if simulation `began_at` at real time `began`."""
        paced = began + (at - began_at) / self.speed if math.isfinite(self.speed) else began
        return max(paced, at)


def connections(sim: Simulation, where: Address, sign_ins: Credentials | None) -> list[Connection]:
    """A connection for each gateway, in the channels' order: its own if sign-ins are given, else one shared by all.

    A shared connection can carry only one will, that of the first gateway.
    """
    gateways = [(f, g.slug) for f, g in sim.channels.gateways]
    status = [f"wickwatch/1/{f}/{g}/status" for f, g in gateways]
    if sign_ins is None:
        return [Connection(where, f"wickwatch-simulator-{sim.scenario.name}", status, None)] * len(gateways)
    missing = [f"{f}/{g}" for f, g in gateways if f"{f}/{g}" not in sign_ins]
    if missing:
        raise InputError("credentials", ", ".join(missing[:5]), "a user and password for every gateway of the fleet")
    return [
        Connection(where, f"wickwatch-simulator-{f}-{g}", [topic], sign_ins[f"{f}/{g}"])
        for (f, g), topic in zip(gateways, status, strict=True)
    ]


def publish(
    sim: Simulation,
    links: list[Connection],
    end: datetime | None,
    interval: timedelta,
    pace: Pace,
    cbor: bool = False,
    stop: threading.Event | None = None,
    progress: Callable[[datetime, int], None] | None = None,
) -> int:
    """Publish readings from the simulation's `now` to `end` (`None`: until `stop` is set); returns how many messages.

    `progress` is told the simulated moment and the number of messages so far, after each stretch.
    """
    stop = stop or threading.Event()
    courier = Courier(sim.channels.gateways, sim.scenario.seed)
    opened = list(dict.fromkeys(links))
    count = 0
    try:
        for link in opened:
            link.open()
        began_at, began = sim.now, datetime.now(UTC)
        silent: set[int] = set()
        while not stop.is_set() and (end is None or sim.now < end):
            upto = _stretch_end(sim, end, interval, pace, began_at, began)
            due = pace.due(upto, began_at, began)
            if stop.wait(max((due - datetime.now(UTC)).total_seconds(), 0.0)):
                break
            for chunk in sim.run(sim.now, upto, interval):
                courier.take(packs_by_gateway(chunk, cbor))
            silent = _statuses(sim, links, silent)
            count += _send(courier, links, upto.timestamp())
            if progress:
                progress(upto, count)
        count += _send(courier, links, math.inf)
    except UnavailableError:
        for link in opened:
            link.abandon()
        raise
    except BaseException:
        for link in opened:
            link.close()
        raise
    for link in opened:
        link.close()
    log.event("simulator.published", messages=count, until=sim.now.isoformat())
    return count


def _stretch_end(
    sim: Simulation,
    end: datetime | None,
    interval: timedelta,
    pace: Pace,
    began_at: datetime,
    began: datetime,
) -> datetime:
    """How far to simulate next: what is due already, a stretch at most, one interval at least."""
    ready = sim.now
    while ready - sim.now < STRETCH and pace.due(ready + interval, began_at, began) <= datetime.now(UTC):
        ready += interval
    ready = max(ready, sim.now + interval)
    return ready if end is None else min(ready, end)


def _send(courier: Courier, links: list[Connection], until_s: float) -> int:
    count = 0
    for number, pack in courier.arrived(until_s):
        links[number].send(pack.topic, pack.payload)
        count += 1
    return count


def _statuses(sim: Simulation, links: list[Connection], before: set[int]) -> set[int]:
    """Say `offline` for gateways now silent, as the broker would by their will, and `online` for those back."""
    now = sim.silent_gateways()
    for number in now ^ before:
        facility, gateway = sim.channels.gateways[number]
        word = "offline" if number in now else "online"
        links[number].send(f"wickwatch/1/{facility}/{gateway.slug}/status", word, retain=True)
    return now
