"""What was played, and how it counted."""

from __future__ import annotations

import uuid

from django.db import models
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from analysis.models import Analysis
from assignments.models.set import Exercise
from studio.models import Horn, User


class Take(models.Model):
    """One recording by one student, of one exercise, on one studio-local day."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    horn = models.ForeignKey(Horn, on_delete=models.CASCADE, related_name="takes")
    exercise = models.ForeignKey(Exercise, on_delete=models.CASCADE, related_name="takes")
    analysis = models.OneToOneField(Analysis, on_delete=models.PROTECT, related_name="take")
    on = models.DateField()
    client_key = models.UUIDField()
    in_lesson = models.BooleanField(default=False, db_default=False)  # by a teacher, together: it counts for no day
    asked = models.JSONField()  # [{"slot", "written_midi", "tone", "partial", "lane"}], in playing order
    recorder = models.JSONField(default=dict, blank=True)  # what the browser said of its microphone
    received_at = models.DateTimeField(default=timezone.now)
    settled_at = models.DateTimeField(null=True)
    across_spots = models.JSONField(null=True)  # of the newest run: see assignments.spots

    class Meta:
        constraints = [models.UniqueConstraint(fields=["horn", "client_key"], name="one_take_a_client_key")]
        indexes = [
            models.Index(fields=["horn", "on"]),
            models.Index("received_at", condition=models.Q(settled_at=None), name="takes_to_settle"),
        ]

    def __str__(self) -> str:
        return f"take {self.id} on {self.on}"

    def get_absolute_url(self) -> str:
        return reverse("take", args=[self.pk])


class Try(models.Model):
    """A tone that was asked for, as it counted."""

    class Outcome(models.TextChoices):
        HIT = "hit", _("on target")
        MISS = "miss", _("not yet")
        UNREADABLE = "unreadable", _("couldn’t hear")

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    take = models.ForeignKey(Take, on_delete=models.CASCADE, related_name="tries")
    horn = models.ForeignKey(Horn, on_delete=models.CASCADE, related_name="tries")
    on = models.DateField()
    played_at = models.DateTimeField()  # when its recording arrived; phones send in playing order
    slot = models.PositiveSmallIntegerField()
    counts = models.BooleanField(default=True)  # to the gate and the planner: daily tones do, runs and overtones don't
    written_midi = models.PositiveSmallIntegerField()
    partial = models.PositiveSmallIntegerField(null=True)
    tone = models.CharField(max_length=13)
    lane = models.CharField(max_length=8, blank=True)  # coverage or focus, of the daily tones
    outcome = models.CharField(max_length=10, choices=Outcome)
    tone_index = models.PositiveSmallIntegerField(null=True)  # place in the report; null: not heard
    checks = models.JSONField(default=list)
    reasons = models.JSONField(default=list)
    soft_reading = models.JSONField(null=True)  # of a plain tone: what assignments.squeezes compares

    class Meta:
        verbose_name_plural = "tries"
        constraints = [models.UniqueConstraint(fields=["take", "slot"], name="one_try_a_slot_of_a_take")]
        indexes = [models.Index(fields=["horn", "on", "played_at", "slot"])]

    def __str__(self) -> str:
        return f"{self.written_midi} {self.tone}: {self.outcome}"


class JudgedAgain(models.Model):
    """A try as a later engine would have counted it. Nothing stands on it: the try keeps its own outcome."""

    about_try = models.ForeignKey(Try, on_delete=models.CASCADE, related_name="judged_again")
    engine = models.CharField(max_length=40)
    outcome = models.CharField(max_length=10, choices=Try.Outcome)
    tone_index = models.PositiveSmallIntegerField(null=True)  # place in that engine's report
    checks = models.JSONField(default=list)
    reasons = models.JSONField(default=list)
    made_at = models.DateTimeField(default=timezone.now)

    class Meta:
        verbose_name_plural = "judged again"
        constraints = [models.UniqueConstraint(fields=["about_try", "engine"], name="one_judging_an_engine")]

    def __str__(self) -> str:
        return f"{self.about_try_id} by {self.engine}: {self.outcome}"


class PlayedDay(models.Model):
    """One horn's day as the gate reads it: folded from its tries when they settle, so that years are quickly read."""

    horn = models.ForeignKey(Horn, on_delete=models.CASCADE, related_name="played_days")
    on = models.DateField()
    counted = models.BinaryField()  # assignments.gate.Day.counted
    in_range = models.BooleanField()
    folds = models.PositiveIntegerField(default=0, db_default=0)  # how often it was folded: each may change it
    squeezes = models.JSONField(default=list)  # possible squeezes of soft tones as they stood on this day

    class Meta:
        constraints = [models.UniqueConstraint(fields=["horn", "on"], name="one_played_day_a_day")]

    def __str__(self) -> str:
        return f"{self.horn_id} on {self.on}"


class PaperDay(models.Model):
    """A day practised from the printed card, as a teacher noted it. Unheard, it never counts for the gate."""

    horn = models.ForeignKey(Horn, on_delete=models.CASCADE, related_name="paper_days")
    on = models.DateField()
    by = models.ForeignKey(User, on_delete=models.SET_NULL, null=True, related_name="+")
    made_at = models.DateTimeField(default=timezone.now)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["horn", "on"], name="one_paper_day_a_day")]

    def __str__(self) -> str:
        return f"{self.horn_id} on paper on {self.on}"
