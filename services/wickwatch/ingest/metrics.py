"""What one copy of ingest counts and shows to Prometheus, and the numbers it puts into its heartbeat.

Each copy has a registry of its own, so that two in one process (a test, `wickwatch run`) do not collide.
"""

from __future__ import annotations

from prometheus_client import CollectorRegistry, Counter, Gauge, Histogram

from wickwatch.ingest.writing import Outcome, reasons


class Metrics:
    """Counters of one copy since its start."""

    def __init__(self) -> None:
        self.registry = CollectorRegistry()
        self._stored = self._counter("stored", "Readings stored")
        self._duplicates = self._counter("duplicates", "Readings that were there already")
        self._conflicts = self._counter("conflicts", "Readings whose time was there with another value")
        self._rejected = Counter(
            "wickwatch_ingest_rejected", "Records and packs quarantined", ["reason"], registry=self.registry
        )
        self._failures = self._counter("write_failures", "Batches that had to be tried again")
        self.waiting = Gauge("wickwatch_ingest_waiting", "Packets received and not yet written", registry=self.registry)
        self.connected = Gauge("wickwatch_ingest_connected", "1 with a session at the broker", registry=self.registry)
        self.lag_s = Gauge(
            "wickwatch_ingest_lag_seconds", "Age of the last batch's first packet", registry=self.registry
        )
        self.write_s = Histogram("wickwatch_ingest_write_seconds", "Time to write one batch", registry=self.registry)
        self.totals = {"stored": 0, "duplicates": 0, "conflicts": 0, "rejected": 0}

    def add(self, outcome: Outcome) -> None:
        """Count a batch that was committed."""
        written, rejected = outcome.written, reasons(outcome.refused)
        self._stored.inc(written.stored)
        self._duplicates.inc(written.duplicates)
        self._conflicts.inc(written.conflicts)
        for reason, records in rejected.items():
            self._rejected.labels(reason).inc(records)
        self.totals["stored"] += written.stored
        self.totals["duplicates"] += written.duplicates
        self.totals["conflicts"] += written.conflicts
        self.totals["rejected"] += rejected.total()

    def failed(self) -> None:
        """Count a batch that was rolled back."""
        self._failures.inc()

    def _counter(self, name: str, text: str) -> Counter:
        return Counter(f"wickwatch_ingest_{name}", text, registry=self.registry)
