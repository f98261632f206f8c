"""Numbers for Prometheus: requests, queue, workers. No layout, no key, no address."""

from __future__ import annotations

from collections.abc import Callable

from prometheus_client import CollectorRegistry, Counter, Gauge, Histogram, generate_latest
from prometheus_client.exposition import CONTENT_TYPE_LATEST

from layoutcheck_service import __version__
from layoutcheck_service.work.engine import State

CONTENT_TYPE = CONTENT_TYPE_LATEST
# From a glance to the longest plan (s).
_BUCKETS = (0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1, 2.5, 5, 10, 30, 60, 120)


class Metrics:
    """The numbers of one app."""

    def __init__(self, state: Callable[[], State]) -> None:
        """state: gives how the engine stands, asked whenever the numbers are read."""
        self._registry = CollectorRegistry()
        self._requests = Counter(
            "layoutcheck_requests",
            "Requests answered; status 499: the client left before.",
            ("route", "method", "status"),
            registry=self._registry,
        )
        self._seconds = Histogram(
            "layoutcheck_request_seconds",
            "From a request's head to the end of its answer.",
            ("route",),
            buckets=_BUCKETS,
            registry=self._registry,
        )
        self._lost = Counter(
            "layoutcheck_workers_replaced",
            "Worker processes that were killed or died, by why.",
            ("why",),
            registry=self._registry,
        )
        Gauge(
            "layoutcheck_build", "1, with the version.", ("version",), registry=self._registry
        ).labels(__version__).set(1)
        self._watch("workers", "Worker processes there are.", lambda: state().workers)
        self._watch("workers_free", "Worker processes without work.", lambda: state().free)
        self._watch("waiting", "Requests that wait for a worker.", lambda: state().waiting)

    def _watch(self, name: str, what: str, value: Callable[[], float]) -> None:
        Gauge(f"layoutcheck_{name}", what, registry=self._registry).set_function(value)

    def answered(self, route: str, method: str, status: int, *, seconds: float) -> None:
        """Count an answer."""
        self._requests.labels(route, method, str(status)).inc()
        self._seconds.labels(route).observe(seconds)

    def worker_lost(self, why: str) -> None:
        """Count a worker that is replaced."""
        self._lost.labels(why).inc()

    def text(self) -> bytes:
        """Write all numbers in Prometheus' text format."""
        return generate_latest(self._registry)
