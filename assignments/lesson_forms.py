"""What a teacher fills in about single lessons, and anybody about equipment and place."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext_lazy as _

from assignments.models import EquipmentChange

LONGEST_BACK = dt.timedelta(days=365)


def _day(label: Any) -> forms.DateField:
    return forms.DateField(label=label, widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"))


class LessonDayForm(forms.Form):
    """An extra lesson, another hour, or one that falls out."""

    on = _day(_("Which day"))
    at = forms.TimeField(
        label=_("At what time"), required=False, widget=forms.TimeInput(attrs={"type": "time"}, format="%H:%M")
    )
    falls_out = forms.BooleanField(label=_("It falls out"), required=False)

    def __init__(self, *args: Any, today: dt.date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self._today = today

    def clean_on(self) -> dt.date:
        on: dt.date = self.cleaned_data["on"]
        if not self._today <= on <= self._today + LONGEST_BACK:
            raise ValidationError(_("Choose a day from today on, within a year."))
        return on


class EquipmentForm(forms.Form):
    """What is different, since when."""

    what = forms.ChoiceField(label=_("What changed"), choices=EquipmentChange.What)
    words = forms.CharField(label=_("In a few words"), max_length=80, required=False)
    on = _day(_("Since which day"))

    def __init__(self, *args: Any, today: dt.date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["on"].initial = today
        self._today = today

    def clean_on(self) -> dt.date:
        on: dt.date = self.cleaned_data["on"]
        if not self._today - LONGEST_BACK <= on <= self._today:
            raise ValidationError(_("Choose a day up to today, within the last year."))
        return on
