"""What a guardian fills in."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from typing import Any

from django import forms
from django.conf import settings
from django.utils.translation import gettext_lazy as _

from assignments.models import Reminder
from assignments.push import base64url, posting
from assignments.reminders import DAY_BEGINS, DAY_ENDS
from studio.models.people import known_time_zone

AUTH_BYTES = 16  # of what a browser seals with beside its key: RFC 8291, 3.2


class PermissionForm(forms.Form):
    """Saying yes to recordings on the screen."""

    given_by = forms.CharField(
        label=_("Your name, and what you are to the student"),
        max_length=80,
        widget=forms.TextInput(attrs={"autocomplete": "name"}),
    )
    agree = forms.BooleanField(label=_("I have read this, and I may decide it for this student."))


class ReminderForm(forms.Form):
    """At what time to remind, and where. Devices are offered only where the site's owner has switched that on."""

    at = forms.TimeField(
        label=_("At what time, where the student is"),
        widget=forms.TimeInput(attrs={"type": "time"}, format="%H:%M"),
        help_text=_("Between 7 in the morning and 9 in the evening."),
    )
    time_zone = forms.CharField(
        label=_("Time zone"), max_length=64, validators=[known_time_zone], help_text=_("Like “Europe/Lisbon”.")
    )
    way = forms.ChoiceField(
        label=_("How"), choices=Reminder.Way.choices, initial=Reminder.Way.LETTER, widget=forms.RadioSelect
    )
    email = forms.EmailField(
        label=_("To which e-mail address"), widget=forms.EmailInput(attrs={"autocomplete": "email"})
    )

    def __init__(self, *args: object, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)  # type: ignore[arg-type]  # whatever a form takes
        if settings.PUSH:
            self.fields["email"].required = False  # of letters alone, and which it is is known when it is sent
        else:
            del self.fields["way"]

    def clean_at(self) -> dt.time:
        at: dt.time = self.cleaned_data["at"]
        if not DAY_BEGINS <= at < DAY_ENDS:
            raise forms.ValidationError(_("That is at night. Choose a time between 7 and 21 o’clock."))
        return at

    def clean(self) -> dict[str, Any]:
        given = super().clean() or {}
        if given.get("way") == Reminder.Way.LETTER and given.get("email") == "":
            self.add_error("email", _("A letter needs an address."))
        return given


class DeviceForm(forms.Form):
    """What a browser gives to a site that may send it notes."""

    endpoint = forms.CharField(widget=forms.HiddenInput)
    public_key = forms.CharField(widget=forms.HiddenInput)
    auth = forms.CharField(widget=forms.HiddenInput)

    def clean_endpoint(self) -> str:
        endpoint: str = self.cleaned_data["endpoint"]
        if not posting.is_endpoint(endpoint):
            raise forms.ValidationError(_("That is no address for notes."))
        return endpoint

    def clean_public_key(self) -> str:
        from assignments.push.curve import is_point  # noqa: PLC0415  # elliptic curves come with the one form that needs them

        return self._key("public_key", is_point)

    def clean_auth(self) -> str:
        return self._key("auth", lambda plain: len(plain) == AUTH_BYTES)

    def _key(self, name: str, is_one: Callable[[bytes], bool]) -> str:
        text: str = self.cleaned_data[name]
        try:
            plain = base64url.decode(text)
        except ValueError:
            plain = b""
        if not is_one(plain):
            raise forms.ValidationError(_("That is no key of a browser."))
        return base64url.encode(plain)


class ForgetForm(forms.Form):
    """Which device shows no notes any more."""

    device = forms.IntegerField(min_value=1)


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
