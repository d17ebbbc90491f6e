"""Figures about this process and about the whole, as OpenMetrics text.

No facility, room or person is named, since whoever may fetch this need not be signed in. Not here: heartbeats of
other processes, which the database holds.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from prometheus_client import CollectorRegistry, Counter, Histogram
from prometheus_client.core import GaugeMetricFamily, Metric
from prometheus_client.openmetrics.exposition import CONTENT_TYPE_LATEST, generate_latest

from wickwatch.fleet import KINDS
from wickwatch.store.jobs import Beat
from wickwatch.store.pages import Counts

CONTENT_TYPE = CONTENT_TYPE_LATEST

_METHODS = ("GET", "HEAD", "POST", "PUT", "PATCH", "DELETE", "OPTIONS")

_BUCKETS = (0.005, 0.01, 0.025, 0.05, 0.1, 0.15, 0.25, 0.5, 1.0, 2.5, 10.0)


class Metrics:
    """Counters of one application; the rest is asked of the database when somebody looks."""

    def __init__(self) -> None:
        self._registry = CollectorRegistry()
        self._requests = Counter(
            "wickwatch_requests", "Requests answered", ["method", "route", "status"], registry=self._registry
        )
        self._seconds = Histogram(
            "wickwatch_request_seconds",
            "Time from request to the end of the answer",
            ["route"],
            buckets=_BUCKETS,
            registry=self._registry,
        )

    def request(self, method: str, route: str, status: int, seconds: float) -> None:
        """Count one request; a method nobody knows is counted as such, so that nobody can fill the memory."""
        known = method if method in _METHODS else "other"
        self._requests.labels(known, route, str(status)).inc()
        self._seconds.labels(route).observe(seconds)

    def text(self, counts: Counts, beats: Sequence[Beat]) -> bytes:
        """All figures."""
        registry = CollectorRegistry()
        registry.register(_Kept(self._registry))
        registry.register(_Asked(counts, beats))
        return bytes(generate_latest(registry))  # type: ignore[no-untyped-call]


class _Kept:
    """Counters of this process itself."""

    def __init__(self, registry: CollectorRegistry) -> None:
        self._registry = registry

    def collect(self) -> Iterator[Metric]:
        yield from self._registry.collect()


class _Asked:
    """What the database said."""

    def __init__(self, counts: Counts, beats: Sequence[Beat]) -> None:
        self._counts = counts
        self._beats = beats

    def collect(self) -> Iterator[Metric]:
        alarms = GaugeMetricFamily("wickwatch_alarms_active", "Alarms whose life is not over", labels=["kind"])
        for kind in KINDS:
            alarms.add_metric([kind], self._counts.alarms.get(kind, 0))
        yield alarms
        refused = GaugeMetricFamily("wickwatch_records_quarantined", "Records refused, ever", labels=["reason"])
        for reason, records in sorted(self._counts.quarantined.items()):
            refused.add_metric([reason], records)
        yield refused
        yield GaugeMetricFamily("wickwatch_notices_queued", "Notices waiting to leave", self._counts.notices_queued)
        oldest = max(self._counts.notice_oldest_due_s, 0.0)
        yield GaugeMetricFamily("wickwatch_notice_oldest_due_seconds", "How long the oldest notice is due", oldest)
        ages = GaugeMetricFamily("wickwatch_heartbeat_age_seconds", "Since a part was last heard", labels=["part"])
        alive = GaugeMetricFamily("wickwatch_parts_alive", "Copies of a part that are alive", labels=["part"])
        for part in sorted({beat.part for beat in self._beats}):
            of_part = [beat for beat in self._beats if beat.part == part]
            ages.add_metric([part], min(beat.age_s for beat in of_part))
            alive.add_metric([part], sum(beat.alive for beat in of_part))
        yield ages
        yield alive
