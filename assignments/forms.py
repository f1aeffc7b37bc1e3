"""What a teacher fills in: a week, a routine, an answer, an override, a comment."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django import forms
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from assignments import stages
from assignments.exercises import MINUTES, STAGES, TEMPI, TONE_WORDS, USUAL_TEMPO, routine_kinds
from assignments.models import Comment, Decision, Routine, Week
from assignments.naming import note_plain

Kind = Decision.Kind
DAY = {"type": "date"}
FARTHEST = dt.timedelta(days=2 * 366)


def day_field(**kwargs: Any) -> forms.DateField:
    """A day near enough to be meant."""
    widget = forms.DateInput(attrs=DAY, format="%Y-%m-%d")
    return forms.DateField(widget=widget, validators=[_is_near], **kwargs)


def _is_near(day: dt.date) -> None:
    if day > timezone.now().date() + FARTHEST:
        raise forms.ValidationError(_("That day lies too far off. Choose one within two years."))


def _length(model: Any, field: str) -> int:
    return int(model._meta.get_field(field).max_length)


class WeekForm(forms.Form):
    """One student's week. ``pins`` are ``"73-pp"``: written note and tone word."""

    routine = forms.UUIDField(widget=forms.HiddenInput)
    blocks = forms.MultipleChoiceField(
        choices=[(key, kind.title) for key, kind in routine_kinds().items()],
        error_messages={"required": _("A week stands on its daily tones. Choose them first.")},
    )
    budget_minutes = forms.TypedChoiceField(
        label=_("How long a day"), coerce=int, choices=[(minutes, minutes) for minutes in MINUTES]
    )
    beats_per_minute = forms.TypedChoiceField(
        label=_("Tempo, beats a minute"), required=False, coerce=int,
        empty_value=USUAL_TEMPO,  # type: ignore[arg-type]  # what the field gives, already a number
        choices=[(tempo, tempo) for tempo in TEMPI],
        help_text=_("A tone is eight beats, then four to breathe. Faster is shorter: kinder to a young lip."),
    )  # fmt: skip
    focus = forms.CharField(
        label=_("This week, in a word or two"), required=False, max_length=_length(Week, "focus"),
        widget=forms.TextInput(attrs={"placeholder": _("clean starts")}),
    )  # fmt: skip
    words = forms.CharField(
        label=_("A word from you"), required=False, max_length=_length(Week, "words"),
        widget=forms.Textarea(attrs={"rows": 2}),
    )  # fmt: skip
    starts_on = day_field(label=_("First day"))
    ends_on = day_field(label=_("Last day"))
    pins = forms.MultipleChoiceField(label=_("Tones to come first"), required=False)
    left_out = forms.TypedMultipleChoiceField(label=_("Notes to leave out"), required=False, coerce=int)

    def __init__(self, *args: Any, written_range: tuple[int, int], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        low, high = written_range
        self.fields["pins"].choices = [  # type: ignore[attr-defined]  # a choice field
            (f"{midi}-{tone}", f"{note_plain(midi)} {tone}") for midi in range(high, low - 1, -1) for tone in TONE_WORDS
        ]
        self.fields["left_out"].choices = [  # type: ignore[attr-defined]  # a choice field
            (midi, note_plain(midi)) for midi in range(low, high + 1)
        ]

    def clean(self) -> dict[str, Any]:
        sent = super().clean() or self.cleaned_data
        first, last = sent.get("starts_on"), sent.get("ends_on")
        if first and last and last < first:
            self.add_error("ends_on", _("The last day lies before the first. Change one of them."))
        return sent

    def picked(self) -> list[dict[str, Any]]:
        return picks_in(self.cleaned_data["pins"])


def picks_in(pins: list[str]) -> list[dict[str, Any]]:
    """``["73-pp"]`` as a week keeps it."""
    return [{"written_midi": midi, "tone": tone} for midi, tone in pairs(pins)]


def pairs(pins: list[str]) -> list[tuple[int, str]]:
    """``["73-pp"]`` as ``[(73, "pp")]``; anything else is passed over."""
    split = (pin.partition("-") for pin in pins)
    return [(int(midi), tone) for midi, _dash, tone in split if midi.isdecimal() and tone in TONE_WORDS]


class RoutineForm(forms.Form):
    """A studio's own routine."""

    name = forms.CharField(label=_("Name"), max_length=_length(Routine, "name"))
    summary = forms.CharField(label=_("What it is for"), required=False, max_length=_length(Routine, "summary"))
    blocks = forms.MultipleChoiceField(
        label=_("Blocks"), choices=[(key, kind.title) for key, kind in routine_kinds().items()], required=False
    )
    tones = forms.MultipleChoiceField(
        label=_("Levels and shapes of the daily tones"), choices=[(tone, tone) for tone in TONE_WORDS], required=False
    )


class AnswerForm(forms.Form):
    """After listening: yes or not yet, with words for the student."""

    answer = forms.ChoiceField(choices=[("yes", _("yes")), ("not_yet", _("not yet"))])
    stage = forms.TypedChoiceField(coerce=int, choices=[(stage, stage) for stage in STAGES])
    words = forms.CharField(label=_("Words with your answer"), required=False, max_length=_length(Decision, "words"))


class OverrideForm(forms.Form):
    """A teacher's own decision about the gates. The reason is read by student and family."""

    kind = forms.ChoiceField(
        label=_("What"),
        choices=[
            (Kind.PAUSE, _("Pause: holidays, illness, exams, a horn in repair")),
            (Kind.OPEN, _("Open by hand")),
            (Kind.SHUT, _("Shut for a while")),
            (Kind.RESUME, _("End what is set by hand")),
        ],
    )
    stage = forms.TypedChoiceField(label=_("Which high notes"), coerce=int, required=False, empty_value=None)
    words = forms.CharField(
        label=_("Reason, in words for the student"), required=False, max_length=_length(Decision, "words")
    )
    on = day_field(label=_("First day"), required=False, help_text=_("Empty: today. A pause may begin later."))
    until_on = day_field(label=_("Last day"), required=False, help_text=_("Empty: until you end it."))

    def __init__(self, *args: Any, today: dt.date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.today = today
        self.fields["stage"].choices = [("", _("all of them")), *stages.titles()]  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        sent = super().clean() or self.cleaned_data
        kind, until = sent.get("kind"), sent.get("until_on")
        if kind in (Kind.OPEN, Kind.SHUT) and not sent.get("stage"):
            self.add_error("stage", _("Say which high notes you mean."))
        if kind != Kind.RESUME and not sent.get("words"):
            self.add_error("words", _("Write a reason. The student reads it."))
        first = sent.get("on")
        for field, day in (("on", first), ("until_on", until)):
            if day and day < self.today:
                self.add_error(field, _("That day has passed. Choose today or later."))
        if first and first > self.today and kind != Kind.PAUSE:
            self.add_error("on", _("Only a pause may begin later. Leave it empty."))
        if kind == Kind.RESUME:
            sent["until_on"] = None
        return sent


class CommentForm(forms.Form):
    """A lesson note, or a word pinned to a second of a take, written or (under ``key``) said aloud."""

    text = forms.CharField(label=_("What did you hear together?"), required=False, max_length=_length(Comment, "text"))
    about_try = forms.UUIDField(required=False, widget=forms.HiddenInput)
    at_s = forms.FloatField(label=_("At which second"), required=False, min_value=0, max_value=3600)
    private = forms.BooleanField(required=False, label=_("Only those who teach read it"))
    key = forms.UUIDField(required=False, widget=forms.HiddenInput)
    audio = forms.FileField(required=False)

    def clean(self) -> dict[str, Any]:
        sent = super().clean() or self.cleaned_data
        is_spoken = bool(sent.get("audio"))
        if not is_spoken and not sent.get("text") and "text" not in self.errors:
            self.add_error("text", _("Write a word, or say one."))
        if is_spoken and sent.get("private"):
            self.add_error("private", _("A private note is written. Take the sound out, or the tick."))
        return sent
