"""People: who they are, what they may do in which studio, which horn they play, what was agreed at home."""

from __future__ import annotations

import datetime as dt
import uuid
import zoneinfo

from django.contrib.auth.models import AbstractUser
from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import Q
from django.utils import timezone
from django.utils.translation import gettext_lazy as _


def known_time_zone(name: str) -> None:
    if name not in zoneinfo.available_timezones():
        raise ValidationError(_("“%(name)s” is no time zone. Write it like “Europe/Lisbon”."), params={"name": name})


class User(AbstractUser):
    """Somebody who signs in. A child needs no e-mail address."""

    class Light(models.TextChoices):
        PHONE = "phone", _("as the phone")
        DAY = "day", _("day")
        NIGHT = "night", _("night")

    first_name = None  # type: ignore[assignment]  # one name is enough, and people's names have no order
    last_name = None  # type: ignore[assignment]
    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    name = models.CharField(_("name"), max_length=80)
    light = models.CharField(_("light"), max_length=5, choices=Light, default=Light.PHONE)
    language = models.CharField(_("language"), max_length=8, blank=True, default="", db_default="")  # "": the browser's
    note_names = models.CharField(  # of which language; "": of the one the pages are in
        _("note names"), max_length=8, blank=True, default="", db_default=""
    )

    REQUIRED_FIELDS = ["name"]

    def __str__(self) -> str:
        return self.name or self.username

    def get_full_name(self) -> str:
        return self.name

    def get_short_name(self) -> str:
        return self.name.split(" ")[0]


class Studio(models.Model):
    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    name = models.CharField(_("name"), max_length=80)
    time_zone = models.CharField(_("time zone"), max_length=64, default="Europe/London", validators=[known_time_zone])
    a4_hz = models.FloatField(_("A4 in Hz"), default=440.0)
    keep_takes_days = models.PositiveSmallIntegerField(_("days a recording is kept"), default=60)
    second_step_for_staff = models.BooleanField(default=False, db_default=False)

    def __str__(self) -> str:
        return self.name

    def today(self) -> dt.date:
        """The studio's own calendar day: what a practice day is counted in."""
        return self.day_of(timezone.now())

    def day_of(self, at: dt.datetime) -> dt.date:
        """On which of its own days an instant lies."""
        return at.astimezone(zoneinfo.ZoneInfo(self.time_zone)).date()

    def begins(self, day: dt.date) -> dt.datetime:
        """The instant at which one of its own days begins."""
        return dt.datetime.combine(day, dt.time(), zoneinfo.ZoneInfo(self.time_zone))


class Membership(models.Model):
    """What one person is in one studio, from when to when."""

    class Role(models.TextChoices):
        OWNER = "owner", _("owner")
        TEACHER = "teacher", _("teacher")
        ASSISTANT = "assistant", _("assistant")
        STUDENT = "student", _("student")
        GUARDIAN = "guardian", _("guardian")

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    user = models.ForeignKey(User, on_delete=models.CASCADE, related_name="memberships")
    studio = models.ForeignKey(Studio, on_delete=models.CASCADE, related_name="memberships")
    role = models.CharField(max_length=9, choices=Role)
    joined_on = models.DateField(default=dt.date.today)
    ends_on = models.DateField(_("last day"), null=True, blank=True)
    wards = models.ManyToManyField("self", symmetrical=False, blank=True, related_name="guardians")
    teachers = models.ManyToManyField("self", symmetrical=False, blank=True, related_name="students")
    of_age = models.BooleanField(_("agrees for themselves"), default=False, db_default=False)  # by local rules
    lesson_weekday = models.PositiveSmallIntegerField(null=True, blank=True)  # Monday is 0
    lesson_at = models.TimeField(null=True, blank=True)  # studio-local
    turned_to_at = models.DateTimeField(null=True, blank=True)  # who works in several studios is in the latest
    tell_teacher_of_pain = models.BooleanField(default=False)  # the family's choice

    class Meta:
        constraints = [models.UniqueConstraint(fields=["user", "studio", "role"], name="one_membership_a_role")]

    def __str__(self) -> str:
        return f"{self.user}, {self.get_role_display()}"


class Horn(models.Model):
    """One instrument in use by one student: its own range, history and gate."""

    class Kind(models.TextChoices):
        SOPRANINO = "sopranino", _("sopranino")
        SOPRANO = "soprano", _("soprano")
        ALTO = "alto", _("alto")
        TENOR = "tenor", _("tenor")
        BARITONE = "baritone", _("baritone")
        BASS = "bass", _("bass")

    class Level(models.TextChoices):
        BEGINNER = "beginner", _("beginner")
        INTERMEDIATE = "intermediate", _("intermediate")
        ADVANCED = "advanced", _("advanced")

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    player = models.ForeignKey(Membership, on_delete=models.CASCADE, related_name="horns")
    kind = models.CharField(_("instrument"), max_length=9, choices=Kind, default=Kind.ALTO)
    lowest_written_midi = models.PositiveSmallIntegerField(_("lowest written note"), default=58)
    highest_keyed_written_midi = models.PositiveSmallIntegerField(_("highest note of the keys"), default=90)
    level = models.CharField(_("level"), max_length=12, choices=Level, default=Level.BEGINNER)
    a4_hz = models.FloatField(_("A4 in Hz"), default=440.0)
    note_offsets_cents = models.JSONField(default=dict, blank=True)  # written MIDI -> this horn's own lie
    in_use_since_on = models.DateField(default=dt.date.today)
    put_away_on = models.DateField(null=True, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(lowest_written_midi__lt=models.F("highest_keyed_written_midi")), name="range_goes_up"
            )
        ]

    def __str__(self) -> str:
        return f"{self.player.user}, {self.get_kind_display()}"

    @property
    def studio(self) -> Studio:
        return self.player.studio

    @property
    def written_range(self) -> tuple[int, int]:
        return self.lowest_written_midi, self.highest_keyed_written_midi


class Consent(models.Model):
    """Permission to record one student: who gave it, when, for which wording, and whether it still stands."""

    class How(models.TextChoices):
        SCREEN = "screen", _("on the screen")
        PAPER = "paper", _("on paper")

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    student = models.ForeignKey(Membership, on_delete=models.CASCADE, related_name="consents")
    wording = models.CharField(max_length=20)  # which version of the text was agreed to
    given_by = models.CharField(_("given by"), max_length=80)
    how = models.CharField(max_length=6, choices=How)
    keep_takes_days = models.PositiveSmallIntegerField(default=60, db_default=60)  # as the text said when it was given
    logged_by = models.ForeignKey(User, on_delete=models.SET_NULL, null=True, related_name="+")
    given_at = models.DateTimeField(default=timezone.now)
    withdrawn_at = models.DateTimeField(null=True, blank=True)

    def __str__(self) -> str:
        return f"{self.student}: {self.given_by}"
