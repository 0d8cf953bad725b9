"""Seeing inside: the number of a request on each line of the log, metrics, traces (docs/deploy.md).

Metrics and traces are off until a setting wants them, and only then are their packages loaded.
"""

import logging
from collections.abc import Iterator
from datetime import datetime

from django.conf import settings
from django.db.models import Min
from django.utils.timezone import localdate


class NumberedLines(logging.Filter):
    """Gives each line the number of the request, or of the batch, that it was written for."""

    def filter(self, record: logging.LogRecord) -> bool:
        """Add `request_id` and, for people, `before`."""
        from django_guid import get_guid

        record.request_id = get_guid() or ""
        record.before = f"[{record.request_id}] " if record.request_id else ""
        return True


def metrics_written(at: datetime) -> tuple[bytes, str]:
    """Return all metrics as Prometheus reads them, and the content's type."""
    from prometheus_client import CONTENT_TYPE_LATEST, CollectorRegistry, generate_latest
    from prometheus_client.multiprocess import MultiProcessCollector

    registry = CollectorRegistry()
    MultiProcessCollector(registry)
    registry.register(RecordCollector(at))
    return generate_latest(registry), CONTENT_TYPE_LATEST


class RecordCollector:
    """What waits in the record, and when it was last proved, asked as the metrics are read."""

    def __init__(self, at: datetime):
        self._at = at

    def collect(self) -> Iterator:
        """Yield the gauges; a proof that was never given has no row."""
        from prometheus_client.core import GaugeMetricFamily

        from services_inventory.queries.batches import batches_waiting

        from .queries.seals import last_proofs

        waiting = batches_waiting(localdate(self._at))
        oldest = waiting.aggregate(at=Min("created_at"))["at"] or self._at
        for name, told, value in (
            ("batches_waiting", "Batches that wait for a worker", waiting.count()),
            ("batch_waits_seconds", "Age of the oldest", (self._at - oldest).total_seconds()),
        ):
            yield GaugeMetricFamily(f"lead_lines_{name}", told, value)
        proofs = GaugeMetricFamily(
            "lead_lines_proved_timestamp_seconds", "When each proof last held", labels=["what"]
        )
        for proof in last_proofs():
            if held := proof.last_held:
                proofs.add_metric([held.what.lower()], held.at.timestamp())
        yield proofs


def trace() -> None:
    """Send a trace of each request to the collector that `TRACES_TO` names, if any.

    Before the first request, and in each process: what sends them is a thread.
    """
    if not settings.TRACES_TO:
        return
    from opentelemetry.exporter.otlp.proto.http.trace_exporter import OTLPSpanExporter
    from opentelemetry.instrumentation.django import DjangoInstrumentor
    from opentelemetry.sdk.resources import Resource
    from opentelemetry.sdk.trace import TracerProvider
    from opentelemetry.sdk.trace.export import BatchSpanProcessor

    provider = TracerProvider(resource=Resource.create({"service.name": "lead-line-program"}))
    exporter = OTLPSpanExporter(f"{settings.TRACES_TO}/v1/traces")
    provider.add_span_processor(BatchSpanProcessor(exporter))
    DjangoInstrumentor().instrument(tracer_provider=provider, response_hook=_route_alone)


# Where the package writes an address, by the old and by the new names of the convention.
ADDRESSES = ("http.url", "http.target", "url.full", "url.path")


def _route_alone(span, request, response) -> None:
    """Keep what people asked for out of a trace: a name, an address, a link that lets one in."""
    match = request.resolver_match
    for name in ADDRESSES:
        if name in span.attributes:
            span.set_attribute(name, f"/{match.route}" if match else "")
    if "url.query" in span.attributes:
        span.set_attribute("url.query", "")
