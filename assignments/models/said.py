"""What people said and decided about it, and whom it was played to."""

from __future__ import annotations

import uuid

from django.db import models
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from analysis.models import Analysis
from assignments.models.played import Take, Try
from studio.models import Horn, User


class Comment(models.Model):
    """A teacher's word, written or spoken, pinned to a second of a take; or a student's note to the teacher."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    horn = models.ForeignKey(Horn, on_delete=models.CASCADE, related_name="comments")
    take = models.ForeignKey(Take, on_delete=models.SET_NULL, null=True, blank=True, related_name="comments")
    about_try = models.ForeignKey(Try, on_delete=models.SET_NULL, null=True, blank=True, related_name="comments")
    at_s = models.FloatField(null=True, blank=True)
    text = models.CharField(max_length=500)  # may be empty where it is spoken
    voice = models.OneToOneField(Analysis, on_delete=models.PROTECT, null=True, blank=True, related_name="comment")
    by = models.ForeignKey(User, on_delete=models.CASCADE, related_name="+")
    made_at = models.DateTimeField(default=timezone.now)
    seen_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-made_at"]

    def __str__(self) -> str:
        return self.text[:40]


class PrivateNote(models.Model):
    """A lesson note for those who teach: no page shows it to student or family. A copy of everything holds it."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    horn = models.ForeignKey(Horn, on_delete=models.CASCADE, related_name="private_notes")
    about_try = models.ForeignKey(Try, on_delete=models.SET_NULL, null=True, blank=True, related_name="private_notes")
    at_s = models.FloatField(null=True, blank=True)
    text = models.CharField(max_length=500)
    by = models.ForeignKey(User, on_delete=models.CASCADE, related_name="+")
    made_at = models.DateTimeField(default=timezone.now)

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
