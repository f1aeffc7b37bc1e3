"""What a monitoring system reads at /metrics, in Prometheus' text form.

What stands in the rows is counted when it is asked for, so every web process tells the same; the time of pages is
this process's own. Nothing names a person, a path or a take.
"""

from __future__ import annotations

import hmac
import json
import shutil
import time
from collections.abc import Callable, Iterator
from datetime import datetime, timedelta
from ipaddress import ip_address
from pathlib import Path

from django.apps import apps
from django.conf import settings
from django.db.models import Count, F, Min, Sum
from django.http import Http404, HttpRequest, HttpResponse
from django.utils import timezone
from django.views.decorators.http import require_safe
from prometheus_client import CollectorRegistry, Histogram
from prometheus_client.core import GaugeMetricFamily, HistogramMetricFamily, Metric
from prometheus_client.exposition import CONTENT_TYPE_LATEST, generate_latest

SERVICE_BOUNDS_S = (1.0, 2.0, 5.0, 10.0, 30.0, 60.0, 120.0, 300.0, 900.0)
LATELY = timedelta(hours=1)
A_MONTH = timedelta(days=30)  # so long a take that was given up is worth a look
MOST_LATELY = 20_000  # takes of the last hour that are looked at
REGISTRY = CollectorRegistry()
PAGES = Histogram(
    "footing_http_seconds",
    "Time to answer, by the route's name",
    ("route", "method", "status"),
    buckets=(0.01, 0.025, 0.05, 0.1, 0.15, 0.25, 0.5, 1.0, 2.5, 10.0),
    registry=REGISTRY,
)


class Timed:
    """Outermost: how long each answer took."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        begun = time.perf_counter()
        response = self.get_response(request)
        route = (request.resolver_match.url_name if request.resolver_match else None) or "none"
        method = request.method if request.method in ("GET", "HEAD", "POST", "PATCH") else "other"
        PAGES.labels(route, method, response.status_code).observe(time.perf_counter() - begun)
        return response


class Rows:
    """The chain of takes as the rows have it."""

    def collect(self) -> Iterator[Metric]:
        analyses = apps.get_model("analysis", "Analysis").objects
        takes = GaugeMetricFamily("footing_takes", "Kept takes by how far they are", labels=("state",))
        for state, count in analyses.values_list("state").annotate(Count("pk")):
            takes.add_metric((state,), count)
        yield takes
        told = "Takes of the last 30 days without a result, by reason"
        refused = GaugeMetricFamily("footing_takes_not_measured", told, labels=("code",))
        month = analyses.filter(created_at__gt=timezone.now() - A_MONTH)
        for code, count in month.exclude(fault_code="").values_list("fault_code").annotate(Count("pk")):
            refused.add_metric((code,), count)
        yield refused
        waiting = analyses.filter(state="queued")
        yield GaugeMetricFamily("footing_queue_length", "Takes that wait to be measured", value=waiting.count())
        age_s = _age_s(waiting.aggregate(at=Min("created_at"))["at"])
        yield GaugeMetricFamily("footing_oldest_waiting_seconds", "Age of the oldest of them", value=age_s)
        yield from _to_settle()
        lately = analyses.filter(measured_at__gt=timezone.now() - LATELY).exclude(fault_code="taken_back")
        ended = GaugeMetricFamily("footing_ended_lately", "Takes that were over in the last hour", labels=("state",))
        for state, count in lately.values_list("state").annotate(Count("pk")):
            ended.add_metric((state,), count)
        yield ended
        kept = analyses.aggregate(claims=Sum("claims"), lost=Sum("lost"), deaths=Sum("deaths"))
        yield GaugeMetricFamily("footing_claims", "Times that a kept take was taken in hand", value=kept["claims"] or 0)
        yield GaugeMetricFamily("footing_claims_lost", "… and its worker vanished", value=kept["lost"] or 0)
        yield GaugeMetricFamily("footing_decoders_died", "… and its decoder died", value=kept["deaths"] or 0)
        yield _service_times()


class Machine:
    """Disk, sweeper and backup of the machine that answers."""

    def collect(self) -> Iterator[Metric]:
        disk = shutil.disk_usage(settings.VAR)
        yield GaugeMetricFamily("footing_disk_free_bytes", "Room in the data folder", value=disk.free)
        yield GaugeMetricFamily("footing_disk_free_share", "… as a share of the disk", value=disk.free / disk.total)
        actions = GaugeMetricFamily("footing_sweeper_actions", "What the sweeper put right", labels=("action",))
        for action, count in swept().items():
            actions.add_metric((action,), count)
        yield actions
        noted = Path(settings.VAR) / "last_backup.txt"
        if noted.exists():
            age_s = time.time() - noted.stat().st_mtime
            yield GaugeMetricFamily("footing_backup_age_seconds", "Since the last backup", value=age_s)


def swept() -> dict[str, float]:
    """What the sweeper of this machine noted, in all since it was first started."""
    try:
        counts: dict[str, float] = json.loads((Path(settings.VAR) / "swept.json").read_text())
    except (FileNotFoundError, ValueError):  # none yet, or one that a power cut left unfinished
        return {}
    return counts


def _age_s(at: datetime | None) -> float:
    return max(0.0, (timezone.now() - at).total_seconds()) if at else 0.0


def _to_settle() -> Iterator[Metric]:
    """Takes whose measuring is over and that count for nothing yet: they are in no queue of takes any more."""
    takes = apps.get_model("assignments", "Take").objects.filter(settled_at=None)
    over = takes.exclude(analysis__state__in=("queued", "running"))
    found = over.aggregate(count=Count("pk"), since=Min("analysis__measured_at"))
    told = "Takes that are measured and wait to be settled"
    yield GaugeMetricFamily("footing_settling_queue_length", told, value=found["count"])
    age_s = _age_s(found["since"])
    yield GaugeMetricFamily("footing_oldest_settling_seconds", "Since the oldest of them was measured", value=age_s)


def _service_times() -> Metric:
    """From received to settled, of the last hour."""
    takes = apps.get_model("assignments", "Take").objects.filter(settled_at__gt=timezone.now() - LATELY)
    took = sorted(
        span.total_seconds()
        for span in takes.annotate(took=F("settled_at") - F("received_at")).values_list("took", flat=True)[:MOST_LATELY]
    )
    family = HistogramMetricFamily("footing_service_seconds", "From received to settled, in the last hour")
    buckets = [(str(bound), float(sum(one <= bound for one in took))) for bound in SERVICE_BOUNDS_S]
    family.add_metric((), [*buckets, ("+Inf", float(len(took)))], sum(took))
    return family


REGISTRY.register(Rows())
REGISTRY.register(Machine())


@require_safe
def metrics(request: HttpRequest) -> HttpResponse:
    """For whoever has the token; without one set, for this machine alone, and never on a public site: 404."""
    if not _may_read(request):
        raise Http404
    return HttpResponse(generate_latest(REGISTRY), content_type=CONTENT_TYPE_LATEST)


def _may_read(request: HttpRequest) -> bool:
    if settings.METRICS_TOKEN:
        sent, token = request.headers.get("Authorization", ""), f"Bearer {settings.METRICS_TOKEN}"
        return hmac.compare_digest(sent.encode(), token.encode())  # as text only ASCII is compared
    # Behind a proxy on the same machine everybody seems to come from here.
    return not settings.PRODUCTION and ip_address(request.META["REMOTE_ADDR"]).is_loopback
