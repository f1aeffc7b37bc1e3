"""What a teacher changed about what is asked: the gate's rule and single targets. Never changed, only followed."""

from __future__ import annotations

import uuid

from django.db import models
from django.utils import timezone

from assignments.exercises import STAGES
from studio.models import Horn, Studio, User


def every_stage() -> list[int]:
    return list(STAGES)


class GateRule(models.Model):
    """The gate's rule from a day on: of one horn, or of everybody in the studio who has none of their own."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    studio = models.ForeignKey(Studio, on_delete=models.CASCADE, related_name="gate_rules")
    horn = models.ForeignKey(Horn, on_delete=models.CASCADE, null=True, related_name="gate_rules")
    chosen = models.JSONField(null=True)  # fields of assignments.gate.Rule; null: back to what stands above
    ear_stages = models.JSONField(default=every_stage)  # which stages ask for a teacher's yes
    from_on = models.DateField()
    words = models.CharField(max_length=300, blank=True)
    by = models.ForeignKey(User, on_delete=models.SET_NULL, null=True, related_name="+")
    made_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ["made_at"]

    def __str__(self) -> str:
        return f"rule of {self.horn or self.studio} from {self.from_on}"


class TargetChange(models.Model):
    """One target of one horn, moved from a day on: for one note, one tone word, both, or all."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    horn = models.ForeignKey(Horn, on_delete=models.CASCADE, related_name="target_changes")
    measure = models.CharField(max_length=40)  # a field of analysis.core.records.Target
    value = models.FloatField(null=True)  # null: as if nothing had been said here
    written_midi = models.PositiveSmallIntegerField(null=True)  # null: every note
    tone = models.CharField(max_length=13, blank=True)  # empty: every level and shape
    from_on = models.DateField()
    by = models.ForeignKey(User, on_delete=models.SET_NULL, null=True, related_name="+")
    made_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ["from_on", "made_at"]

    def __str__(self) -> str:
        return f"{self.measure} of {self.horn_id} from {self.from_on}: {self.value}"
