"""When a family wants to be asked whether somebody plays now."""

from __future__ import annotations

import uuid

from django.db import models
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from studio.models import Membership, Session, User
from studio.models.people import known_time_zone


class Reminder(models.Model):
    """One note a day, by e-mail or to devices, chosen at home. Without a row nobody is reminded."""

    class Way(models.TextChoices):
        LETTER = "letter", _("By e-mail")
        DEVICE = "device", _("On a phone or computer")

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    player = models.OneToOneField(Membership, on_delete=models.CASCADE, related_name="reminder")
    at = models.TimeField(_("at what time"))  # where the student is
    time_zone = models.CharField(_("time zone"), max_length=64, validators=[known_time_zone])
    way = models.CharField(max_length=6, choices=Way, default=Way.LETTER, db_default=Way.LETTER)
    email = models.EmailField(_("to which e-mail address"))  # empty where notes come to devices alone
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


class ReminderDevice(models.Model):
    """A browser that shows the notes of a reminder: as long as whoever asked for it is signed in there."""

    reminder = models.ForeignKey(Reminder, on_delete=models.CASCADE, related_name="devices")
    # The database doesn't hold a session for it: code of the release before, which knows no devices, ends sessions too.
    session = models.ForeignKey(Session, on_delete=models.CASCADE, db_constraint=False, related_name="+")
    endpoint = models.CharField(max_length=1000)  # where its maker takes messages for it; a secret of browser and site
    public_key = models.CharField(max_length=87)  # the browser's own, base64url: messages are sealed for it …
    auth = models.CharField(max_length=22)  # … and with this
    site_key = models.CharField(max_length=87)  # this site's: the browser takes messages from its holder alone
    language = models.CharField(max_length=10)
    since_at = models.DateTimeField(default=timezone.now)
    last_sent_on = models.DateField(null=True, blank=True)  # the student's own day, written down before it is sent
    not_before_at = models.DateTimeField(null=True, blank=True)  # when a service that was busy is asked again

    class Meta:
        constraints = [models.UniqueConstraint(fields=["reminder", "session"], name="a_sign_in_is_one_device")]

    def __str__(self) -> str:
        return f"device of {self.reminder_id}"
