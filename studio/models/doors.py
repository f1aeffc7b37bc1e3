"""Ways in: a code that makes an account, a sign-in that lasts, a device that a family shares. Secrets are hashed."""

from __future__ import annotations

import datetime as dt
import uuid

from django.contrib.sessions.base_session import AbstractBaseSession
from django.db import models
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from studio.models.people import Membership, Studio, User

INVITATION_LASTS = dt.timedelta(days=14)


def a_fortnight_from_now() -> dt.datetime:
    return timezone.now() + INVITATION_LASTS


class Invitation(models.Model):
    """A code on paper that lets one person in, once, within a fortnight. Whoever made it can take it back."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    studio = models.ForeignKey(Studio, on_delete=models.CASCADE, related_name="invitations")
    role = models.CharField(max_length=9, choices=Membership.Role)
    code_hash = models.CharField(max_length=64, unique=True)  # studio.codes.hashed
    name = models.CharField(_("name or nickname"), max_length=80, blank=True)
    member = models.ForeignKey(Membership, on_delete=models.CASCADE, null=True, blank=True, related_name="+")
    ward = models.ForeignKey(Membership, on_delete=models.CASCADE, null=True, blank=True, related_name="invitations")
    horn = models.JSONField(null=True, blank=True)  # keywords of enrolment.give_horn
    of_age = models.BooleanField(default=False)
    ends_on = models.DateField(null=True, blank=True)  # a substitute's last day
    made_by = models.ForeignKey(User, on_delete=models.SET_NULL, null=True, related_name="+")
    made_at = models.DateTimeField(default=timezone.now)
    expires_at = models.DateTimeField(default=a_fortnight_from_now)
    used_at = models.DateTimeField(null=True, blank=True)
    revoked_at = models.DateTimeField(null=True, blank=True)

    def __str__(self) -> str:
        return f"{self.get_role_display()} of {self.studio}, until {self.expires_at:%Y-%m-%d}"


class CodeTry(models.Model):
    """A code that opened nothing. Counted by address for an hour, so that nobody can try them all."""

    address_hash = models.CharField(max_length=64, db_index=True)
    at = models.DateTimeField(default=timezone.now)

    def __str__(self) -> str:
        return f"{self.at:%Y-%m-%d %H:%M}"


class Session(AbstractBaseSession):
    """One sign-in on one device, with whose it is: so that people see where they are signed in, and can end it."""

    user = models.ForeignKey(User, on_delete=models.CASCADE, null=True, related_name="sessions")
    device = models.CharField(max_length=60, blank=True)  # in words: “Firefox on Android”
    begun_at = models.DateTimeField(default=timezone.now)
    seen_at = models.DateTimeField(default=timezone.now)

    class Meta:
        verbose_name = "session"

    def __str__(self) -> str:
        return f"{self.user_id} on {self.device}"


class Device(models.Model):
    """A phone or tablet that several students share. A guardian or teacher enrolled it, and says who may play on it."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    studio = models.ForeignKey(Studio, on_delete=models.CASCADE, related_name="devices")
    name = models.CharField(_("what you call this device"), max_length=40)
    secret_hash = models.CharField(max_length=64, unique=True)  # SHA-256 of 256 random bits in its cookie
    players = models.ManyToManyField(Membership, related_name="devices")
    enrolled_by = models.ForeignKey(User, on_delete=models.CASCADE, related_name="+")
    enrolled_at = models.DateTimeField(default=timezone.now)

    def __str__(self) -> str:
        return self.name


class Pin(models.Model):
    """Six digits that open one student's pages on an enrolled device, and nothing anywhere else."""

    player = models.OneToOneField(Membership, on_delete=models.CASCADE, related_name="pin")
    digits_hash = models.CharField(max_length=128)
    set_at = models.DateTimeField(default=timezone.now)
    wrong_tries = models.PositiveSmallIntegerField(default=0)  # since the last right one

    def __str__(self) -> str:
        return f"PIN of {self.player_id}"


class SecondStep(models.Model):
    """A grown-up's phone that shows six digits, asked for after the passphrase.

    The secret in the phone is worked out from the seed and the site's key: who has these rows alone has no code.
    """

    user = models.OneToOneField(User, on_delete=models.CASCADE, related_name="second_step")
    seed = models.CharField(max_length=64)  # studio.second_step.secret_of
    last_step = models.BigIntegerField(default=0)  # whose code was used last: none is good twice
    begun_at = models.DateTimeField(default=timezone.now)

    def __str__(self) -> str:
        return f"second step of {self.user_id}"


class RecoveryCode(models.Model):
    """A code on paper for the day on which the phone is lost: it stands in for the digits once, then the row goes."""

    second_step = models.ForeignKey(SecondStep, on_delete=models.CASCADE, related_name="recovery_codes")
    code_hash = models.CharField(max_length=64, unique=True)  # studio.codes.hashed

    def __str__(self) -> str:
        return f"recovery code of {self.second_step_id}"
