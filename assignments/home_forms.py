"""What a guardian fills in."""

from __future__ import annotations

import datetime as dt

from django import forms
from django.utils.translation import gettext_lazy as _

from assignments.reminders import DAY_BEGINS, DAY_ENDS
from studio.models.people import known_time_zone


class PermissionForm(forms.Form):
    """Saying yes to recordings on the screen."""

    given_by = forms.CharField(
        label=_("Your name, and what you are to the student"),
        max_length=80,
        widget=forms.TextInput(attrs={"autocomplete": "name"}),
    )
    agree = forms.BooleanField(label=_("I have read this, and I may decide it for this student."))


class ReminderForm(forms.Form):
    """At what time to remind, and where."""

    at = forms.TimeField(
        label=_("At what time, where the student is"),
        widget=forms.TimeInput(attrs={"type": "time"}, format="%H:%M"),
        help_text=_("Between 7 in the morning and 9 in the evening."),
    )
    time_zone = forms.CharField(
        label=_("Time zone"), max_length=64, validators=[known_time_zone], help_text=_("Like “Europe/Lisbon”.")
    )
    email = forms.EmailField(
        label=_("To which e-mail address"), widget=forms.EmailInput(attrs={"autocomplete": "email"})
    )

    def clean_at(self) -> dt.time:
        at: dt.time = self.cleaned_data["at"]
        if not DAY_BEGINS <= at < DAY_ENDS:
            raise forms.ValidationError(_("That is at night. Choose a time between 7 and 21 o’clock."))
        return at


class DeleteForm(forms.Form):
    """Deleting everything of a student, by typing the name once more."""

    name = forms.CharField(label=_("The student’s name, as it stands above"), max_length=80)

    def __init__(self, *args: object, name: str, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)  # type: ignore[arg-type]  # whatever a form takes
        self._name = name

    def clean_name(self) -> str:
        typed: str = self.cleaned_data["name"]
        if typed.strip().casefold() != self._name.strip().casefold():
            raise forms.ValidationError(_("That is another name. Nothing was deleted."))
        return typed
