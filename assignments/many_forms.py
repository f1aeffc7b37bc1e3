"""What a teacher gives to several students at once."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from assignments.exercises import MINUTES, TEMPI, TONE_WORDS
from assignments.forms import WeekForm, day_field, pairs, picks_in
from assignments.many import DAY, LESSON
from assignments.models import Decision
from assignments.naming import note_plain
from studio.models import Horn

AGAIN, NEW, PAUSE = "again", "new", "pause"
OWN, THESE, NO_PICKS = "own", "these", "none"  # whose picks a week for all holds


class ManyForm(forms.Form):
    """Whom, what, and from when: last week's again, one for all, or a pause."""

    what = forms.ChoiceField(
        choices=[(AGAIN, _("last week’s again")), (NEW, _("one for all")), (PAUSE, _("a pause"))],
        error_messages={"required": _("Nothing was given yet. Press the button of what you mean.")},
    )
    horns = forms.MultipleChoiceField(error_messages={"required": _("Choose at least one student.")})
    begins = forms.ChoiceField(
        choices=[(LESSON, _("with each one’s next lesson")), (DAY, _("on one day for all"))], required=False
    )
    starts_on = day_field(label=_("First day"))
    routine = forms.UUIDField(required=False)
    budget_minutes = forms.TypedChoiceField(
        label=_("How long a day"), coerce=int, required=False, empty_value=None,
        choices=lambda: [(minutes, _("%(n)d minutes") % {"n": minutes}) for minutes in MINUTES],  # said when asked
    )  # fmt: skip
    beats_per_minute = forms.TypedChoiceField(
        label=_("Tempo, beats a minute"), coerce=int, required=False, empty_value=None,
        choices=[("", _("each one’s own")), *((tempo, tempo) for tempo in TEMPI)],
    )  # fmt: skip
    picks = forms.ChoiceField(
        choices=[(OWN, _("each one’s own, as last week")), (THESE, _("these for all")), (NO_PICKS, _("none"))],
        required=False,
    )
    pins = forms.MultipleChoiceField(required=False)
    focus = WeekForm.base_fields["focus"]
    words = WeekForm.base_fields["words"]
    until_on = day_field(label=_("Last day of the pause"), required=False, help_text=_("Empty: until you end it."))
    reason = forms.CharField(
        label=_("Reason, in words for the students"), required=False,
        max_length=int(Decision._meta.get_field("words").max_length or 0),
    )  # fmt: skip

    def __init__(self, *args: Any, horns: Sequence[Horn], today: dt.date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self._horns, self._today = horns, today
        self.fields["horns"].choices = [(str(horn.pk), str(horn)) for horn in horns]  # type: ignore[attr-defined]
        notes = {midi for low, high in {horn.written_range for horn in horns} for midi in range(low, high + 1)}
        self.fields["pins"].choices = [  # type: ignore[attr-defined]
            (f"{midi}-{tone}", f"{note_plain(midi)} {tone}") for midi in sorted(notes) for tone in TONE_WORDS
        ]

    def clean(self) -> dict[str, Any]:
        sent = super().clean() or self.cleaned_data
        what, first = sent.get("what"), sent.get("starts_on")
        if first and first < self._today:
            self.add_error("starts_on", _("That day has passed. Choose today or later."))
        if what == NEW and not (sent.get("routine") and sent.get("budget_minutes")):
            self.add_error("routine", _("Choose a routine and how long a day."))
        if what == PAUSE and not sent.get("reason"):
            self.add_error("reason", _("Write a reason. The student reads it."))
        return sent

    @property
    def first_day(self) -> dt.date | None:
        """Of the weeks; None: with each one's next lesson."""
        sent = self.cleaned_data
        return None if sent["begins"] == LESSON else sent["starts_on"]

    @property
    def picked(self) -> list[dict[str, Any]] | None:
        """The picks for everybody; None: each keeps their own."""
        picks = self.cleaned_data["picks"] or OWN
        if picks == OWN:
            return None
        return picks_in(self.cleaned_data["pins"]) if picks == THESE else []

    @property
    def offered_pins(self) -> list[tuple[str, int, str]]:
        """The picks to tick, as they came in: value, written note, tone."""
        return [(f"{midi}-{tone}", midi, tone) for midi, tone in pairs(list(self["pins"].value() or ()))]

    @property
    def chosen(self) -> list[Horn]:
        """The students, in the order of the page."""
        return [horn for horn in self._horns if str(horn.pk) in self.cleaned_data["horns"]]
