"""Work: what a teacher sets, what was played of it, and what that opens."""

from __future__ import annotations

import uuid

from django.db import models
from django.db.models import Q
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from analysis.models import Analysis
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
        ]

    def __str__(self) -> str:
        return f"{self.horn}: {self.starts_on} to {self.ends_on}"


class Exercise(models.Model):
    """One block of one week: the daily tones, a run, overtones … ``stage`` 0 is the foundation."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    week = models.ForeignKey(Week, on_delete=models.CASCADE, related_name="exercises")
    position = models.PositiveSmallIntegerField()
    kind = models.CharField(max_length=30)  # key of data/exercises.toml
    stage = models.PositiveSmallIntegerField(default=0)
    tones = models.JSONField(default=list, blank=True)  # tone words, of the daily tones

    class Meta:
        ordering = ["position"]
        constraints = [models.UniqueConstraint(fields=["week", "position"], name="one_exercise_a_place")]

    def __str__(self) -> str:
        return f"{self.kind} of {self.week}"


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


class Take(models.Model):
    """One recording by one student, of one exercise, on one studio-local day."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    horn = models.ForeignKey(Horn, on_delete=models.CASCADE, related_name="takes")
    exercise = models.ForeignKey(Exercise, on_delete=models.CASCADE, related_name="takes")
    analysis = models.OneToOneField(Analysis, on_delete=models.PROTECT, related_name="take")
    on = models.DateField()
    client_key = models.UUIDField()
    asked = models.JSONField()  # [{"slot", "written_midi", "tone", "partial", "lane"}], in playing order
    recorder = models.JSONField(default=dict, blank=True)  # what the browser said of its microphone
    received_at = models.DateTimeField(default=timezone.now)
    settled_at = models.DateTimeField(null=True)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["horn", "client_key"], name="one_take_a_client_key")]
        indexes = [models.Index(fields=["horn", "on"])]

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


class PlayedDay(models.Model):
    """One horn's day as the gate reads it: folded from its tries when they settle, so that years are quickly read."""

    horn = models.ForeignKey(Horn, on_delete=models.CASCADE, related_name="played_days")
    on = models.DateField()
    counted = models.BinaryField()  # assignments.gate.Day.counted
    in_range = models.BooleanField()
    squeezes = models.JSONField(default=list)  # possible squeezes of soft tones as they stood on this day

    class Meta:
        constraints = [models.UniqueConstraint(fields=["horn", "on"], name="one_played_day_a_day")]

    def __str__(self) -> str:
        return f"{self.horn_id} on {self.on}"


class Comment(models.Model):
    """A teacher's word, pinned to a second of a take; or a student's note to the teacher."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    horn = models.ForeignKey(Horn, on_delete=models.CASCADE, related_name="comments")
    take = models.ForeignKey(Take, on_delete=models.SET_NULL, null=True, blank=True, related_name="comments")
    about_try = models.ForeignKey(Try, on_delete=models.SET_NULL, null=True, blank=True, related_name="comments")
    at_s = models.FloatField(null=True, blank=True)
    text = models.CharField(max_length=500)
    by = models.ForeignKey(User, on_delete=models.CASCADE, related_name="+")
    made_at = models.DateTimeField(default=timezone.now)
    seen_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-made_at"]

    def __str__(self) -> str:
        return self.text[:40]


class Decision(models.Model):
    """What a teacher decided about a student's gate, with words and dates; never changed, only followed."""

    class Kind(models.TextChoices):
        CONFIRM = "confirm", _("yes, open it")
        NOT_YET = "not_yet", _("not yet")
        OPEN = "open", _("open by hand")
        SHUT = "shut", _("shut by hand")
        PAUSE = "pause", _("pause")
        RESUME = "resume", _("resume")

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    horn = models.ForeignKey(Horn, on_delete=models.CASCADE, related_name="decisions")
    stage = models.PositiveSmallIntegerField(null=True, blank=True)  # null: of every stage (pause, resume)
    kind = models.CharField(max_length=7, choices=Kind)
    on = models.DateField()
    until_on = models.DateField(null=True, blank=True)
    words = models.CharField(max_length=300, blank=True)
    by = models.ForeignKey(User, on_delete=models.SET_NULL, null=True, related_name="+")
    made_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ["made_at"]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} on {self.on}"


class Opening(models.Model):
    """A gate stood open from this day; written once however often the day is settled."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    horn = models.ForeignKey(Horn, on_delete=models.CASCADE, related_name="openings")
    stage = models.PositiveSmallIntegerField(default=1)
    opened_on = models.DateField()
    decision = models.ForeignKey(Decision, on_delete=models.SET_NULL, null=True, related_name="openings")
    rule = models.JSONField()
    window = models.JSONField()
    written_at = models.DateTimeField(default=timezone.now)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["horn", "stage", "opened_on"], name="one_opening_a_gate")]

    def __str__(self) -> str:
        return f"{self.horn}, stage {self.stage}: {self.opened_on}"


class Hearing(models.Model):
    """Somebody on the staff, or a guardian, listened to this take."""

    take = models.ForeignKey(Take, on_delete=models.CASCADE, related_name="hearings")
    about_try = models.ForeignKey(Try, on_delete=models.CASCADE, null=True, related_name="hearings")
    by = models.ForeignKey(User, on_delete=models.CASCADE, related_name="+")
    at = models.DateTimeField(default=timezone.now)

    def __str__(self) -> str:
        return f"{self.by} heard {self.take_id}"
