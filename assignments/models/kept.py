"""What is kept longer than the rest."""

from __future__ import annotations

from django.db import models
from django.utils import timezone

from assignments.models.played import Take
from studio.models import User


class Milestone(models.Model):
    """A recording that a teacher keeps past its time, to be heard again when the year is over."""

    take = models.OneToOneField(Take, on_delete=models.CASCADE, related_name="milestone")
    until_on = models.DateField()
    by = models.ForeignKey(User, on_delete=models.SET_NULL, null=True, related_name="+")
    made_at = models.DateTimeField(default=timezone.now)

    def __str__(self) -> str:
        return f"{self.take_id} until {self.until_on}"
