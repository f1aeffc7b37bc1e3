"""What a teacher's ear said of tones heard blind, and the limits that were taken from it."""

from __future__ import annotations

from django.db import models
from django.utils import timezone

from assignments.models.played import Try
from studio.models import Horn, Studio, User


class EarAnswer(models.Model):
    """One tone by ear: accepted or not yet. ``blind``: heard without its verdict and without a name."""

    by = models.ForeignKey(User, on_delete=models.CASCADE, related_name="+")
    about_try = models.ForeignKey(Try, on_delete=models.CASCADE, related_name="ear_answers")
    accepted = models.BooleanField()
    blind = models.BooleanField(default=True, db_default=True)  # else given beside the verdict
    made_at = models.DateTimeField(default=timezone.now)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["by", "about_try"], name="one_answer_an_ear")]

    def __str__(self) -> str:
        return f"{self.about_try_id}: {'accept' if self.accepted else 'not yet'}"


class AdoptedLimit(models.Model):
    """A target of one level, moved by ear for the weeks that begin from a day on; never changed, only followed."""

    studio = models.ForeignKey(Studio, on_delete=models.CASCADE, related_name="adopted_limits")
    level = models.CharField(max_length=12, choices=Horn.Level)
    measure = models.CharField(max_length=40)  # a field of analysis.core.records.Target
    factor = models.FloatField(null=True)  # how many times as wide as the table; null: back to it
    from_on = models.DateField()
    found = models.JSONField(default=dict)  # the figures that spoke for it: kept, accepted, caught, others
    by = models.ForeignKey(User, on_delete=models.SET_NULL, null=True, related_name="+")
    made_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ["from_on", "made_at"]

    def __str__(self) -> str:
        return f"{self.measure} for {self.level} from {self.from_on}: {self.factor}"
