"""How a tone should sound: played by those who teach, for everybody on that instrument in the studio."""

from __future__ import annotations

import uuid

from django.db import models
from django.utils import timezone

from analysis.models import Analysis
from studio.models import Studio, User


class Demonstration(models.Model):
    """One written note at a level or in a shape, on one kind of instrument. It is the studio's, whoever played it.

    The newest that was heard is the one that students hear; ``demonstrations.settle`` lets the older ones go.
    """

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    studio = models.ForeignKey(Studio, on_delete=models.CASCADE, related_name="demonstrations")
    instrument = models.CharField(max_length=20)  # of analysis.core.data.instruments
    written_midi = models.PositiveSmallIntegerField()
    tone = models.CharField(max_length=13)
    by = models.ForeignKey(User, on_delete=models.SET_NULL, null=True, related_name="+")
    analysis = models.OneToOneField(Analysis, on_delete=models.PROTECT, related_name="demonstration")
    made_at = models.DateTimeField(default=timezone.now)
    settled_at = models.DateTimeField(null=True)
    from_s = models.FloatField(null=True)  # where the tone sounds in it; null: it was not heard (yet)
    to_s = models.FloatField(null=True)
    level_db = models.FloatField(null=True)

    class Meta:
        ordering = ["-made_at"]
        indexes = [
            models.Index(fields=["studio", "instrument", "written_midi"]),
            models.Index("made_at", condition=models.Q(settled_at=None), name="demonstrations_to_settle"),
        ]

    def __str__(self) -> str:
        return f"{self.instrument} {self.written_midi} {self.tone}"
