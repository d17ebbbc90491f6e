"""What gateways do to messages on the way: gather, repeat, reorder. Readings stay what they are; arrival changes.

Lost messages and wrong clocks are already in the readings (`readings`), because a database sees them too.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from heapq import heappop, heappush

from wickwatch_simulator import keyed
from wickwatch_simulator.plan import Gateway
from wickwatch_simulator.senml import Pack

#: A repeated message comes again, and a reordered one late, by up to this many seconds (common practice).
REPEAT_WITHIN_S, REORDER_WITHIN_S = 30.0, 90.0


@dataclass
class Courier:
    """Messages on their way, in order of arrival. One courier serves all gateways of a fleet."""

    gateways: tuple[tuple[str, Gateway], ...]
    seed: int
    _waiting: list[tuple[float, int, int, Pack]] = field(default_factory=list)
    _count: int = 0

    def take(self, packs: Iterable[tuple[int, Pack]]) -> None:
        """Accept (gateway number, pack) as the gateways gathered them."""
        for number, pack in packs:
            gateway = self.gateways[number][1]
            for due_s in _arrivals(gateway, pack, self.seed, number, self._count):
                heappush(self._waiting, (due_s, self._count, number, pack))
                self._count += 1

    def arrived(self, until_s: float) -> Iterator[tuple[int, Pack]]:
        """(gateway number, pack) of all that arrives up to a moment [s since 1970], in order of arrival."""
        while self._waiting and self._waiting[0][0] <= until_s:
            _, _, number, pack = heappop(self._waiting)
            yield number, pack


def _arrivals(gateway: Gateway, pack: Pack, seed: int, number: int, count: int) -> list[float]:
    """When a pack arrives; twice if it is repeated. `number` is the gateway's, `count` that of the pack."""
    sent_s = pack.gathered_s - gateway.clock_s
    if gateway.batch_s:
        sent_s = (sent_s // gateway.batch_s + 1) * gateway.batch_s
    if not gateway.reorder_share and not gateway.repeat_share:
        return [sent_s]
    late, again, late_share, again_share = keyed.generator(seed, f"way {number}", count).random(4)
    if late < gateway.reorder_share:
        sent_s += 1.0 + late_share * (REORDER_WITHIN_S - 1.0)
    if again < gateway.repeat_share:
        return [sent_s, sent_s + 1.0 + again_share * (REPEAT_WITHIN_S - 1.0)]
    return [sent_s]
