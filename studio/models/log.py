"""What was done with people's data: rows that are added and never changed (the database refuses it)."""

from __future__ import annotations

from django.db import models
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from studio.models.people import Studio


class LogRow(models.Model):
    """Who did what, about whom, when, from where. People stand in it by their ids: a name that is erased is gone."""

    class What(models.TextChoices):
        SIGNED_IN = "signed_in", _("signed in")
        GUESSED_AT = "guessed_at", _("typed five wrong passphrases")
        INVITED = "invited", _("made a code")
        UNINVITED = "uninvited", _("took a code back")
        JOINED = "joined", _("joined")
        RULES = "rules", _("changed the house rules")
        ROLE = "role", _("changed what somebody may do")
        SLIP = "slip", _("made a new passphrase")
        CONSENT_GIVEN = "consent_given", _("gave permission to record")
        CONSENT_ON_PAPER = "consent_on_paper", _("wrote down that permission was given on paper")
        CONSENT_TAKEN_BACK = "consent_taken_back", _("took permission back; the recordings were deleted")
        RECORDED = "recorded", _("recorded in the lesson")
        EXPORTED = "exported", _("took a copy of everything")
        IMPORTED = "imported", _("brought a copy in")
        ERASED = "erased", _("deleted everything")
        SIGNED_OUT_ELSEWHERE = "signed_out", _("ended a sign-in on another device")
        DEVICE_ENROLLED = "device", _("made a device shared")
        DEVICE_REMOVED = "device_removed", _("ended a shared device")
        PIN_SET = "pin_set", _("set a PIN")
        PIN_LOCKED = "pin_locked", _("typed a wrong PIN five times")
        SECOND_STEP_ON = "second_step_on", _("turned the second step on")
        SECOND_STEP_OFF = "second_step_off", _("turned the second step off")
        SECOND_STEP_SHUT = "second_step_shut", _("typed five wrong codes for the second step")
        RECOVERY_CODE_USED = "recovery_code", _("came in with a recovery code")
        RECOVERY_CODES_MADE = "recovery_codes", _("made new recovery codes")

    at = models.DateTimeField(default=timezone.now, db_index=True)
    studio = models.ForeignKey(Studio, on_delete=models.CASCADE, related_name="log")
    who_id = models.UUIDField(null=True)  # a User; null: nobody who was signed in
    about_id = models.UUIDField(null=True, db_index=True)  # a Membership
    what = models.CharField(max_length=20, choices=What)
    address = models.GenericIPAddressField(null=True)

    class Meta:
        ordering = ["-at", "-pk"]

    def __str__(self) -> str:
        return f"{self.at:%Y-%m-%d %H:%M} {self.what}"
