"""When a family wants to be asked whether somebody plays now."""

from __future__ import annotations

import uuid

from django.db import models
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from studio.models import Membership, User
from studio.models.people import known_time_zone


class Reminder(models.Model):
    """One note a day by e-mail, chosen at home. Without a row nobody is reminded."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    player = models.OneToOneField(Membership, on_delete=models.CASCADE, related_name="reminder")
    at = models.TimeField(_("at what time"))  # where the student is
    time_zone = models.CharField(_("time zone"), max_length=64, validators=[known_time_zone])
    email = models.EmailField(_("to which e-mail address"))
    asked_at = models.DateTimeField(null=True, blank=True)  # when a letter there asked whether the address is right …
    confirmed_at = models.DateTimeField(null=True, blank=True)  # … and when its reader said so; none follows before
    language = models.CharField(max_length=10)
    chosen_by = models.ForeignKey(User, on_delete=models.SET_NULL, null=True, related_name="+")
    chosen_at = models.DateTimeField(default=timezone.now)
    last_sent_on = models.DateField(null=True, blank=True)  # the student's own day
    last_sent_at = models.DateTimeField(null=True, blank=True)
    unanswered = models.PositiveSmallIntegerField(default=0)  # notes in a row without playing after them

    def __str__(self) -> str:
        return f"{self.player_id} at {self.at}"
