"""What a teacher sends with a sound in it: how a tone should be played, a tone of the lesson, a word said aloud."""

from __future__ import annotations

import uuid
from typing import Any, cast

from django import forms
from django.utils.translation import gettext_lazy as _

from analysis.core.tables import instrument, instruments
from assignments import builds
from assignments.exercises import LEVELS, TONE_WORDS
from assignments.models import Comment
from assignments.naming import note_plain, tone_said

WORDS_MOST = int(Comment._meta.get_field("text").max_length or 0)


class SoundForm(forms.Form):
    """A recording, made in the page or chosen as a file; sent twice under one key it is one."""

    key = forms.UUIDField(widget=forms.HiddenInput, initial=uuid.uuid4)
    audio = forms.FileField(
        widget=forms.FileInput(attrs={"accept": "audio/*,video/mp4"}),
        error_messages={"required": _("Record it first, or choose a file.")},
    )


class ToneForm(SoundForm):
    """A recording of one tone: which note it is, as written, and at which level or in which shape."""

    written_midi = forms.TypedChoiceField(label=_("Written note"), coerce=int)
    tone = forms.ChoiceField(label=_("Level or shape"))

    def __init__(self, *args: Any, written_range: tuple[int, int], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        lowest, highest = written_range
        notes = [(midi, note_plain(midi)) for midi in range(highest, lowest - 1, -1)]
        cast(forms.ChoiceField, self.fields["written_midi"]).choices = notes
        cast(forms.ChoiceField, self.fields["tone"]).choices = [(tone, _words(tone)) for tone in TONE_WORDS]


class DemonstrationForm(ToneForm):
    """How a tone should be played, on which instrument."""

    instrument = forms.ChoiceField(label=_("Instrument"))

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        ends = [_ends(name) for name in instruments()]
        written_range = (min(low for low, _high in ends), max(high for _low, high in ends))
        super().__init__(*args, written_range=written_range, **kwargs)
        cast(forms.ChoiceField, self.fields["instrument"]).choices = builds.instruments()
        self.order_fields(["key", "instrument", "written_midi", "tone", "audio"])

    def clean(self) -> dict[str, Any]:
        sent = super().clean() or self.cleaned_data
        if "instrument" in sent and "written_midi" in sent:
            low, high = _ends(sent["instrument"])
            if not low <= sent["written_midi"] <= high:
                self.add_error("written_midi", _("That instrument has no such note. Choose another."))
        return sent


class LessonTakeForm(ToneForm):
    """A tone of the lesson, and what was said about it."""

    words = forms.CharField(label=_("What did you hear together?"), required=False, max_length=WORDS_MOST)


def _ends(name: str) -> tuple[int, int]:
    """The lowest and the highest written note that any build of this instrument has."""
    table = instrument(name)
    built = [(table.lowest_written, table.highest_written), *((low, high) for _name, low, high in table.options)]
    return min(low for low, _high in built), max(high for _low, high in built)


def _words(tone: str) -> str:
    """``mf, medium``; a shape by its name alone."""
    said = tone_said(tone)
    return f"{tone}, {said}" if tone in LEVELS else said
