"""When people meet, and where the dates can be read from outside."""

from __future__ import annotations

import uuid

from django.db import models
from django.utils import timezone

from studio.models import Horn, Membership, User


class LessonDay(models.Model):
    """One lesson that differs from the student's weekday: an extra one, one at another hour, or one that falls out."""

    player = models.ForeignKey(Membership, on_delete=models.CASCADE, related_name="lesson_days")
    on = models.DateField()
    at = models.TimeField(null=True, blank=True)  # studio-local; null: the weekday’s hour, on another day none
    falls_out = models.BooleanField(default=False)
    by = models.ForeignKey(User, on_delete=models.SET_NULL, null=True, related_name="+")
    made_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ["on"]
        constraints = [models.UniqueConstraint(fields=["player", "on"], name="one_lesson_day_a_day")]

    def __str__(self) -> str:
        return f"{self.player} on {self.on}"


class Agenda(models.Model):
    """What a teacher means to do in one lesson, in order: proposed from what happened, changed by hand, kept."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    horn = models.ForeignKey(Horn, on_delete=models.CASCADE, related_name="agendas")
    on = models.DateField()  # the day of the lesson
    points = models.JSONField(default=list)  # texts, in order
    by = models.ForeignKey(User, on_delete=models.SET_NULL, null=True, related_name="+")
    changed_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ["-on"]
        constraints = [models.UniqueConstraint(fields=["horn", "on"], name="one_agenda_a_lesson")]

    def __str__(self) -> str:
        return f"{self.horn_id} on {self.on}"


class CalendarAddress(models.Model):
    """A secret address from which somebody's calendar reads dates. Only its hash is kept: it is shown once."""

    user = models.OneToOneField(User, on_delete=models.CASCADE, related_name="calendar_address")
    secret_hash = models.CharField(max_length=64, unique=True)  # SHA-256, hexadecimal
    language = models.CharField(max_length=12)
    made_at = models.DateTimeField(default=timezone.now)

    def __str__(self) -> str:
        return f"calendar of {self.user}"
