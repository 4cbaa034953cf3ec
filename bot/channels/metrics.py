"""What is counted while the service runs (Prometheus). Numbers only: no text, name or address."""

from __future__ import annotations

from prometheus_client import CollectorRegistry, Counter, Gauge, Histogram, generate_latest


class Metrics:
    """The figures of one process."""

    def __init__(self) -> None:
        self.registry = CollectorRegistry()
        self.updates = Counter("heel_checkin_updates", "Updates handled", ["result"], registry=self.registry)
        self.turn_seconds = Histogram(
            "heel_checkin_turn_seconds",
            "Seconds for one message in: store, read, decide, queue",
            registry=self.registry,
        )
        self.sent = Counter(
            "heel_checkin_messages", "Messages of the outbox by what became of them", ["result"], registry=self.registry
        )
        self.waiting = Gauge("heel_checkin_waiting", "Messages of the outbox that are due", registry=self.registry)
        self.ticks = Counter("heel_checkin_ticks", "Scheduler ticks", ["result"], registry=self.registry)
        self.set_aside = Counter(
            "heel_checkin_set_aside",
            "Prompts, alerts and digests that failed and were set aside for an hour",
            ["what"],
            registry=self.registry,
        )

    def text(self) -> bytes:
        """The figures in Prometheus' text format."""
        return generate_latest(self.registry)
