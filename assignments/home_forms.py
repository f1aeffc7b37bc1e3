"""What a guardian fills in."""

from __future__ import annotations

from django import forms
from django.utils.translation import gettext_lazy as _


class PermissionForm(forms.Form):
    """Saying yes to recordings on the screen."""

    given_by = forms.CharField(
        label=_("Your name, and what you are to the student"),
        max_length=80,
        widget=forms.TextInput(attrs={"autocomplete": "name"}),
    )
    agree = forms.BooleanField(label=_("I have read this, and I may decide it for this student."))


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
