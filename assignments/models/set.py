"""What a teacher sets, and the day's tones that come of it."""

from __future__ import annotations

import uuid

from django.db import models
from django.db.models import Q
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from assignments.models.together import Part
from studio.models import Horn, Studio, User


class Routine(models.Model):
    """A reusable plan: blocks in order, the foundation before what extends it."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    studio = models.ForeignKey(Studio, on_delete=models.CASCADE, null=True, blank=True, related_name="routines")
    name = models.CharField(_("name"), max_length=80)
    summary = models.CharField(_("what it is for"), max_length=200, blank=True)
    blocks = models.JSONField(default=list)  # [{"kind": key of data/exercises.toml, "tones": [...]?}], in order

    def __str__(self) -> str:
        return self.name


class Week(models.Model):
    """What is set for one horn between two days, with the targets frozen as they were."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    horn = models.ForeignKey(Horn, on_delete=models.CASCADE, related_name="weeks")
    routine = models.ForeignKey(Routine, on_delete=models.SET_NULL, null=True, related_name="+")
    set_by = models.ForeignKey(User, on_delete=models.SET_NULL, null=True, related_name="+")
    set_at = models.DateTimeField(default=timezone.now)
    starts_on = models.DateField(_("first day"))
    ends_on = models.DateField(_("last day"))
    budget_minutes = models.PositiveSmallIntegerField(_("minutes a day"), default=5)
    beats_per_minute = models.PositiveSmallIntegerField(_("beats a minute"), default=60)  # of its long tones
    focus = models.CharField(_("this week"), max_length=60, blank=True)
    words = models.CharField(_("a word from you"), max_length=300, blank=True)
    level = models.CharField(max_length=12, choices=Horn.Level)
    target_changes = models.JSONField(default=list, blank=True)  # as analysis.core.targets reads them
    pins = models.JSONField(default=list, blank=True)  # [{"written_midi", "tone"}]
    excluded_written_midi = models.JSONField(default=list, blank=True)

    class Meta:
        ordering = ["starts_on", "set_at"]
        constraints = [
            models.CheckConstraint(condition=Q(starts_on__lte=models.F("ends_on")), name="week_ends_after_it_starts"),
            models.CheckConstraint(condition=Q(budget_minutes__in=(5, 10, 15)), name="five_ten_or_fifteen_minutes"),
            models.CheckConstraint(condition=Q(beats_per_minute__range=(30, 240)), name="a_beat_that_can_be_counted"),
        ]

    def __str__(self) -> str:
        return f"{self.horn}: {self.starts_on} to {self.ends_on}"

    @property
    def beat_s(self) -> float:
        """How long a beat lasts, seconds."""
        return 60.0 / self.beats_per_minute


class Exercise(models.Model):
    """One block of one week: the daily tones, a run, overtones … ``stage`` 0 is the foundation."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    week = models.ForeignKey(Week, on_delete=models.CASCADE, related_name="exercises")
    position = models.PositiveSmallIntegerField()
    kind = models.CharField(max_length=30)  # key of data/exercises.toml
    stage = models.PositiveSmallIntegerField(default=0)
    tones = models.JSONField(default=list, blank=True)  # tone words, of the daily tones
    part = models.ForeignKey(Part, on_delete=models.CASCADE, null=True, blank=True, related_name="exercises")

    class Meta:
        ordering = ["position"]
        constraints = [
            models.UniqueConstraint(fields=["week", "position"], name="one_exercise_a_place"),
            models.UniqueConstraint(fields=["week", "part"], name="one_exercise_a_part"),
        ]

    def __str__(self) -> str:
        return f"{self.kind} of {self.week}"

    @property
    def a4_hz(self) -> float:
        """What its recordings are measured against: those of an ensemble all against one reference."""
        return self.part.chord.a4_hz if self.part else self.week.horn.a4_hz


class DayPlan(models.Model):
    """The tones of one practice day, fixed when first opened so that two phones agree."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    horn = models.ForeignKey(Horn, on_delete=models.CASCADE, related_name="day_plans")
    week = models.ForeignKey(Week, on_delete=models.CASCADE, related_name="day_plans")
    on = models.DateField()
    tones = models.JSONField()  # [{"written_midi", "tone", "lane", "why"}], in playing order
    sound_check = models.JSONField(null=True, blank=True)  # {"softest_db", "loudest_db", …} of the day
    opened_at = models.DateTimeField(default=timezone.now)
    stopped_hurting_at = models.DateTimeField(null=True, blank=True)
    teacher_may_know = models.BooleanField(default=False)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["horn", "on"], name="one_plan_a_day")]

    def __str__(self) -> str:
        return f"{self.horn} on {self.on}"
