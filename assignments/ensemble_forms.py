"""What a teacher writes about an ensemble: who sits where, and what they sound together."""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, cast

from django import forms
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from assignments import voicing
from assignments.exercises import LEVELS
from assignments.forms import day_field
from assignments.models import Chord, Ensemble
from assignments.naming import note_plain
from assignments.spelled import capital
from studio.models import Horn

USUAL_ROOT = 58  # B♭3 as it sounds: every saxophone but the sopranino has it
AHEAD_DAYS = 7


class SeatsForm(forms.Form):
    """``seats``: a horn each, in their order; empty ones are passed over."""

    name = forms.CharField(label=_("Name"), max_length=int(Ensemble._meta.get_field("name").max_length or 0))
    seats = forms.MultipleChoiceField(required=False)

    def __init__(self, *args: Any, horns: Sequence[Horn], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self._horns = {str(horn.pk): horn for horn in horns}
        self.choices = [("", "—"), *((key, seat_name(horn)) for key, horn in self._horns.items())]
        cast(forms.ChoiceField, self.fields["seats"]).choices = self.choices

    def clean_seats(self) -> list[Horn]:
        return [self._horns[key] for key in self.cleaned_data["seats"] if key]


class ChordForm(forms.Form):
    """``notes``: a sounding note a seat. ``of``: the chord that they were given out for. ``key``: of the new chord."""

    key = forms.UUIDField(widget=forms.HiddenInput, initial=uuid.uuid4)
    quality = forms.ChoiceField(
        label=_("What"),
        choices=lambda: [(one.key, capital(gettext(one.title))) for one in voicing.qualities().values()],
    )
    root = forms.TypedChoiceField(
        label=_("Root, as it sounds"), coerce=int, help_text=_("Of a unison: the note that everybody sounds.")
    )
    inversion = forms.TypedChoiceField(
        label=_("In the bass"),
        coerce=int,
        choices=[(0, _("the root")), (1, _("the next note up")), (2, _("the one after")), (3, _("the one after that"))],
    )
    tone = forms.ChoiceField(label=_("How loud"), choices=[(level, level) for level in LEVELS])
    for_on = day_field(label=_("The day it is for"), help_text=_("Until then it stands in everybody’s day."))
    words = forms.CharField(
        label=_("A word from you"), required=False, max_length=int(Chord._meta.get_field("words").max_length or 0)
    )
    of = forms.CharField(required=False, max_length=40, widget=forms.HiddenInput)
    notes = forms.TypedMultipleChoiceField(coerce=int, required=False)

    def __init__(self, *args: Any, reaches: Sequence[voicing.Reach], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        low, high = min(reach[0] for reach in reaches), max(reach[1] for reach in reaches)
        self.sounding = [(midi, note_plain(midi)) for midi in range(high, low - 1, -1)]
        for name in ("root", "notes"):
            cast(forms.ChoiceField, self.fields[name]).choices = self.sounding


@dataclass(frozen=True, slots=True)
class Chosen:
    """A sounding note a seat. ``of``: quality, root and bass that they belong to; ``is_new``: nobody has seen them."""

    notes: list[int]
    of: str
    is_new: bool


def chosen(form: ChordForm, reaches: Sequence[voicing.Reach], do: str) -> Chosen:
    """The notes that were sent; anew from the chord where ``do`` is ``give``, or where they belong to another chord.

    ``do`` ``nearest``: each in the nearest octave that its horn has.
    """
    sent = begin_with(dt.date.min) | (form.cleaned_data if form.is_valid() else {})
    of = f"{sent['quality']} {sent['root']} {sent['inversion']}"
    notes = sent.get("notes", [])
    is_new = do == "give" or sent.get("of") != of or len(notes) != len(reaches)
    if is_new:
        notes = voicing.voiced(voicing.qualities()[sent["quality"]], sent["root"], sent["inversion"], reaches)
    if do == "nearest":
        notes = [voicing.nearest_octave(note, reach) for note, reach in zip(notes, reaches, strict=True)]
    return Chosen(notes, of, is_new)


def begin_with(today: dt.date) -> dict[str, Any]:
    return {
        "quality": voicing.UNISON,
        "root": USUAL_ROOT,
        "inversion": 0,
        "tone": "mf",
        "for_on": today + dt.timedelta(days=AHEAD_DAYS),
        "words": "",
    }


def seat_name(horn: Horn) -> str:
    return f"{horn.player.user}, {horn.get_kind_display()}"
