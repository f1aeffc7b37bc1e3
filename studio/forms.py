"""What people fill in about people: signing in, and who belongs to the studio. Choices of horns come from outside."""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from typing import Any

from django import forms
from django.contrib.auth.forms import AuthenticationForm
from django.core.exceptions import ValidationError
from django.core.validators import RegexValidator
from django.db.models import QuerySet
from django.utils.dates import WEEKDAYS
from django.utils.translation import gettext_lazy as _

from studio.enrolment import Lesson
from studio.models import Horn, Membership, User

STAFF_ROLES = [
    (Membership.Role.ASSISTANT, _("assistant: sees and hears")),
    (Membership.Role.TEACHER, _("teacher: also sets weeks and decides")),
]
plain_username = RegexValidator(r"^[a-z0-9][a-z0-9._-]*$", _("Use small letters, figures, dots and dashes."))


def offer(form: forms.Form, name: str, members: QuerySet[Membership]) -> None:
    """Let field ``name`` choose among ``members``, by the names people know them by."""
    field: Any = form.fields[name]
    field.queryset = members
    field.label_from_instance = lambda member: member.user.name


class SignInForm(AuthenticationForm):
    """Name and passphrase. A phone that begins every line with a capital does no harm."""

    username = forms.CharField(
        label=_("Your name here"),
        max_length=150,
        widget=forms.TextInput(attrs={"autocomplete": "username", "autocapitalize": "none", "spellcheck": "false"}),
    )
    password = forms.CharField(
        label=_("Passphrase"),
        strip=True,
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
    )
    error_messages = {
        "invalid_login": _("That name and passphrase don’t go together. Look at your slip, or ask your teacher."),
        "inactive": _("This account is closed. Ask your teacher."),
    }

    def clean_username(self) -> str:
        typed = str(self.cleaned_data["username"]).strip()
        return typed if User.objects.filter(username=typed).exists() else typed.lower()


class LessonFields(forms.Form):
    lesson_weekday = forms.TypedChoiceField(
        label=_("Lesson day"),
        required=False,
        coerce=int,
        empty_value=None,
        choices=[("", _("no fixed day")), *WEEKDAYS.items()],
    )
    lesson_at = forms.TimeField(
        label=_("Lesson time"), required=False, widget=forms.TimeInput(attrs={"type": "time"}, format="%H:%M")
    )

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        if cleaned.get("lesson_at") and cleaned.get("lesson_weekday") is None:
            self.add_error("lesson_weekday", _("Choose the day of that lesson."))
        return cleaned

    def lesson(self) -> Lesson:
        return Lesson(self.cleaned_data["lesson_weekday"], self.cleaned_data["lesson_at"])


class HornForm(forms.Form):
    """A horn as it is built: ``horns`` are (``"alto 58 90"``, words) pairs, grouped."""

    horn = forms.ChoiceField(label=_("Horn"))
    level = forms.ChoiceField(label=_("Targets to begin with"), choices=Horn.Level.choices)

    def __init__(self, *args: Any, horns: Sequence[Any], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["horn"].choices = horns  # type: ignore[attr-defined]  # a ChoiceField

    def build(self) -> dict[str, Any]:
        """The keywords that ``enrolment.give_horn`` takes."""
        kind, lowest, highest = self.cleaned_data["horn"].split()
        return {
            "kind": kind,
            "lowest_written_midi": int(lowest),
            "highest_keyed_written_midi": int(highest),
            "level": self.cleaned_data["level"],
        }


class NameFields(forms.Form):
    key = forms.UUIDField(widget=forms.HiddenInput)
    name = forms.CharField(label=_("Name or nickname"), max_length=80)
    username = forms.CharField(
        label=_("Name for signing in"),
        required=False,
        max_length=60,
        validators=[plain_username],
        help_text=_("Leave it empty and one is made from the name."),
        widget=forms.TextInput(attrs={"autocapitalize": "none", "spellcheck": "false", "autocomplete": "off"}),
    )

    def clean_username(self) -> str:
        wanted: str = self.cleaned_data["username"]
        holders = User.objects.filter(username=wanted)
        if wanted and holders.exclude(memberships__pk=self.cleaned_data.get("key") or uuid.uuid4()).exists():
            raise ValidationError(_("Somebody signs in with that name already. Choose another."))
        return wanted


class StudentForm(NameFields, HornForm, LessonFields):
    """A new student with a first horn."""

    field_order = ["key", "name", "horn", "level", "lesson_weekday", "lesson_at", "username"]


class StaffForm(NameFields):
    """A new teacher or assistant."""

    role = forms.ChoiceField(label=_("What they may do"), choices=STAFF_ROLES)


class DetailsForm(LessonFields):
    """What changes about a student who is there."""

    name = forms.CharField(label=_("Name or nickname"), max_length=80)
    ends_on = forms.DateField(
        label=_("Last day in the studio"),
        required=False,
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        help_text=_("From the day after, this student can’t sign in to the studio. Empty: stays."),
    )
    of_age = forms.BooleanField(
        label=_("Old enough to agree to recordings alone, by the rules of this place"), required=False
    )
    field_order = ["name", "lesson_weekday", "lesson_at", "ends_on", "of_age"]


class PaperConsentForm(forms.Form):
    """A grown-up signed on paper; the teacher writes down who."""

    given_by = forms.CharField(label=_("Who signed"), max_length=80)
    seen = forms.BooleanField(label=_("I have the signed paper, with today’s wording."))
