"""One recording's way through measuring. There is no person in it."""

from __future__ import annotations

import uuid

from django.db import models
from django.utils import timezone


class Analysis(models.Model):
    """A stored recording, how it is to be heard (frozen), and how far measuring has come.

    The row is the truth and the queue a nudge: whatever the broker forgets is sent again from here.
    """

    class State(models.TextChoices):
        QUEUED = "queued"
        RUNNING = "running"
        MEASURED = "measured"
        REFUSED = "refused"  # the file can't be measured, and words say why
        FAILED = "failed"  # our fault: given up after bounded tries

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    audio = models.FileField(max_length=200, blank=True)  # empty once the recording was deleted
    audio_bytes = models.PositiveBigIntegerField()
    sha256 = models.CharField(max_length=64)
    sent_sha256 = models.CharField(max_length=64, blank=True, default="", db_default="")  # as it came, with its tags
    request = models.JSONField()  # analysis.core.records.Request as plain JSON
    longest_s = models.FloatField(null=True)  # a longer one is refused; null: as long as any take may be
    spoken = models.BooleanField(default=False, db_default=False)  # words: read through, and nothing measured in them
    state = models.CharField(max_length=8, choices=State, default=State.QUEUED, db_index=True)
    token = models.UUIDField(null=True, editable=False)  # of the worker that holds it
    lease_until = models.DateTimeField(null=True)
    claims = models.PositiveSmallIntegerField(default=0)
    lost = models.PositiveSmallIntegerField(default=0)  # workers that vanished with it
    deaths = models.PositiveSmallIntegerField(default=0)  # decoders that it killed
    fault_code = models.CharField(max_length=40, blank=True)
    fault_text = models.CharField(max_length=2000, blank=True)
    created_at = models.DateTimeField(default=timezone.now)
    sent_at = models.DateTimeField(null=True)
    measured_at = models.DateTimeField(null=True)

    class Meta:
        verbose_name_plural = "analyses"

    def __str__(self) -> str:
        return f"{self.id} {self.state}"

    @property
    def sha256_as_sent(self) -> str:
        """By which whoever sent it knows it again; recordings of earlier releases were kept as they came."""
        return self.sent_sha256 or self.sha256

    @property
    def is_over(self) -> bool:
        return self.state not in (self.State.QUEUED, self.State.RUNNING)


class Result(models.Model):
    """What one version of the engine heard. Measuring again adds a row; the first is what counted."""

    analysis = models.ForeignKey(Analysis, on_delete=models.CASCADE, related_name="results")
    engine = models.CharField(max_length=40)
    report = models.JSONField()
    made_at = models.DateTimeField(default=timezone.now)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["analysis", "engine"], name="one_result_an_engine")]
        ordering = ["made_at"]

    def __str__(self) -> str:
        return f"{self.analysis_id} by {self.engine}"


class Discarded(models.Model):
    """A stored file that no recording's row knows any more. The file goes first, then this note of it."""

    name = models.CharField(max_length=200, unique=True)
    since_at = models.DateTimeField(default=timezone.now)

    def __str__(self) -> str:
        return self.name
