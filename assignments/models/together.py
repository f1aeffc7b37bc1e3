"""What several play at once: who sits where, the unison or chord that is set, and what each of them reads of it."""

from __future__ import annotations

import datetime as dt
import uuid

from django.db import models
from django.db.models import Q
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from analysis.core.tables import instrument
from studio.models import Horn, Studio, User


class Ensemble(models.Model):
    """A section, a quartet: students of one studio in the order in which they sit."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    studio = models.ForeignKey(Studio, on_delete=models.CASCADE, related_name="ensembles")
    name = models.CharField(_("name"), max_length=60)
    made_by = models.ForeignKey(User, on_delete=models.SET_NULL, null=True, related_name="+")
    made_at = models.DateTimeField(default=timezone.now)
    closed_on = models.DateField(null=True, blank=True)

    class Meta:
        ordering = ["name", "made_at"]

    def __str__(self) -> str:
        return self.name


class Seat(models.Model):
    """One horn's place. What was set before somebody came or went stays as it was: see ``Part``."""

    ensemble = models.ForeignKey(Ensemble, on_delete=models.CASCADE, related_name="seats")
    horn = models.ForeignKey(Horn, on_delete=models.CASCADE, related_name="seats")
    position = models.PositiveSmallIntegerField()

    class Meta:
        ordering = ["position"]
        constraints = [models.UniqueConstraint(fields=["ensemble", "horn"], name="one_seat_a_horn")]

    def __str__(self) -> str:
        return f"{self.horn_id} in {self.ensemble_id}"


class Chord(models.Model):
    """A unison or a chord for a day. Never changed: a wrong one is taken back and another set."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    ensemble = models.ForeignKey(Ensemble, on_delete=models.CASCADE, related_name="chords")
    quality = models.CharField(max_length=20)  # key of data/chords.toml
    root_sounding_midi = models.PositiveSmallIntegerField()
    tone = models.CharField(max_length=3)  # a level word
    a4_hz = models.FloatField()  # the reference of all its parts, as the studio's was when it was set
    for_on = models.DateField(_("the day it is for"))
    words = models.CharField(_("a word from you"), max_length=200, blank=True)
    by = models.ForeignKey(User, on_delete=models.SET_NULL, null=True, related_name="+")
    set_at = models.DateTimeField(default=timezone.now)
    taken_back_on = models.DateField(null=True, blank=True)

    class Meta:
        ordering = ["-for_on", "-set_at"]

    def __str__(self) -> str:
        return f"{self.quality} of {self.ensemble_id} for {self.for_on}"


class Part(models.Model):
    """What one horn plays of a chord. Recordings of it hang on the exercises that point here, one a week."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    chord = models.ForeignKey(Chord, on_delete=models.CASCADE, related_name="parts")
    horn = models.ForeignKey(Horn, on_delete=models.CASCADE, related_name="parts")
    position = models.PositiveSmallIntegerField()
    sounding_midi = models.PositiveSmallIntegerField()

    class Meta:
        ordering = ["position"]
        constraints = [models.UniqueConstraint(fields=["chord", "horn"], name="one_part_a_horn")]

    def __str__(self) -> str:
        return f"{self.sounding_midi} for {self.horn_id}"

    @property
    def written_midi(self) -> int:
        """The same note as this horn's player reads it."""
        return instrument(self.horn.kind).written(self.sounding_midi)

    @staticmethod
    def still_to_play(on: dt.date, through: str = "") -> Q:
        """Parts that are asked for on a day: their day has not passed, and nobody took them back.

        ``through``: how another table leads to parts, such as ``part__``.
        """
        asked = {"chord__for_on__gte": on, "chord__taken_back_on": None, "chord__ensemble__closed_on": None}
        return Q(**{f"{through}{name}": value for name, value in asked.items()})

    def is_over(self, on: dt.date) -> bool:
        """Whether nothing played on a day belongs to it any more. Needs its chord and ensemble and no further query.

        What was played on the day itself on which it was taken back may have waited on a phone.
        """
        ends = (self.chord.for_on, self.chord.taken_back_on, self.chord.ensemble.closed_on)
        return any(end < on for end in ends if end)
