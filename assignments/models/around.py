"""What a student's tone depends on beside the student: equipment and place."""

from __future__ import annotations

import uuid

from django.db import models
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from studio.models import Horn, User


class EquipmentChange(models.Model):
    """From this day on something else was in the mouth, the hands or around: curves before and after may differ."""

    class What(models.TextChoices):
        REED = "reed", _("reed")
        MOUTHPIECE = "mouthpiece", _("mouthpiece")
        HORN = "horn", _("horn")
        PHONE = "phone", _("phone")
        ROOM = "room", _("room")

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    horn = models.ForeignKey(Horn, on_delete=models.CASCADE, related_name="equipment_changes")
    what = models.CharField(_("what changed"), max_length=10, choices=What)
    words = models.CharField(_("in a few words"), max_length=80, blank=True)
    on = models.DateField(_("from which day"))
    by = models.ForeignKey(User, on_delete=models.SET_NULL, null=True, related_name="+")
    made_at = models.DateTimeField(default=timezone.now)

    class Meta:
        ordering = ["on", "made_at"]

    def __str__(self) -> str:
        return f"{self.get_what_display()} of {self.horn_id} from {self.on}"
