"""What people fill in at the door: a code, who they are, and what a code is to open."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django import forms
from django.contrib.auth.password_validation import validate_password
from django.core.validators import RegexValidator
from django.db.models import QuerySet
from django.utils.translation import gettext_lazy as _

from studio import throttle
from studio.forms import STAFF_ROLES, HornForm, offer
from studio.models import Membership, User

PLAIN = {"autocapitalize": "none", "spellcheck": "false", "autocomplete": "off"}
six_digits = RegexValidator(r"^[0-9]{6}$", _("A PIN has six digits."))


class CodeForm(forms.Form):
    code = forms.CharField(
        label=_("Code"),
        max_length=40,
        help_text=_("Ten letters and figures. Big or small, with or without the dash: both are fine."),
        widget=forms.TextInput(attrs={**PLAIN, "autocapitalize": "characters"}),
    )


class JoinForm(forms.Form):
    """A name and a passphrase; whoever has an account already gives the passphrase alone."""

    name = forms.CharField(
        label=_("Name or nickname"), max_length=80, widget=forms.TextInput(attrs={"autocomplete": "name"})
    )
    passphrase = forms.CharField(
        label=_("Your passphrase"),
        max_length=128,
        help_text=_("Write it down now, or put your own: ten letters or more."),
        widget=forms.TextInput(attrs={**PLAIN, "autocomplete": "new-password"}),
    )

    def __init__(self, *args: Any, has_account: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if has_account:
            del self.fields["name"]

    def clean_passphrase(self) -> str:
        chosen: str = self.cleaned_data["passphrase"]
        name = self.cleaned_data.get("name", "")
        validate_password(chosen, User(username=name, name=name))
        return chosen


class OldPassphraseForm(forms.Form):
    """What changes the way in is asked of whoever knows the passphrase, not of whoever found a phone lying open."""

    old = forms.CharField(
        label=_("The passphrase you have now"),
        max_length=128,
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
    )

    def __init__(self, *args: Any, user: User, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self._user = user

    def clean_old(self) -> str:
        typed: str = self.cleaned_data["old"]
        whose = str(self._user.pk)
        is_spent = throttle.is_spent(whose, throttle.PASSPHRASE)
        is_right = not is_spent and self._user.check_password(typed)
        if is_spent or not throttle.may_be_told(whose, throttle.PASSPHRASE, is_right=is_right):
            raise forms.ValidationError(_("Too many were wrong. Wait an hour, or ask for a new slip."))
        if not is_right:
            raise forms.ValidationError(_("That isn’t the one you have now."))
        return typed


class PassphraseForm(OldPassphraseForm):
    """A new passphrase, by whoever knows the old one."""

    new = forms.CharField(
        label=_("A new one, ten letters or more"),
        max_length=128,
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
    )

    def clean_new(self) -> str:
        chosen: str = self.cleaned_data["new"]
        validate_password(chosen, self._user)
        return chosen


class SecondStepForm(forms.Form):
    """The digits that the phone shows, or a recovery code; ``asks``: whether one is still to be typed."""

    code = forms.CharField(
        label=_("Six digits from your phone"),
        max_length=20,
        help_text=_("Phone lost? One of your recovery codes does as well, once."),
        widget=forms.TextInput(attrs={**PLAIN, "autocomplete": "one-time-code"}),
    )

    def __init__(self, *args: Any, asks: bool = True, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if not asks:
            del self.fields["code"]


class SetUpForm(OldPassphraseForm):
    """The first digits show that the phone and the site go together."""

    code = forms.CharField(
        label=_("The six digits that it shows now"),
        max_length=20,
        widget=forms.TextInput(attrs={**PLAIN, "inputmode": "numeric", "autocomplete": "one-time-code"}),
    )


class PinForm(forms.Form):
    """Six digits, by whoever is whose turn, or by the grown-up who sets them."""

    digits = forms.CharField(
        label=_("PIN"),
        max_length=6,
        validators=[six_digits],
        widget=forms.PasswordInput(attrs={"inputmode": "numeric", "autocomplete": "off", "pattern": "[0-9]{6}"}),
    )


class DeviceForm(forms.Form):
    """The phone or tablet in hand is to be shared by these students."""

    name = forms.CharField(label=_("What you call this device"), max_length=40)
    players = forms.ModelMultipleChoiceField(
        label=_("Who plays on it"), queryset=Membership.objects.none(), widget=forms.CheckboxSelectMultiple
    )

    def __init__(self, *args: Any, players: QuerySet[Membership], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        offer(self, "players", players)


class StudentCodesForm(HornForm):
    """Codes for new students who play the same horn: one with a name, or a sheet of them without."""

    name = forms.CharField(
        label=_("Name or nickname"),
        max_length=80,
        required=False,
        help_text=_("Leave it empty, and whoever joins says it."),
    )
    how_many = forms.IntegerField(label=_("How many codes"), min_value=1, max_value=40, initial=1)
    of_age = forms.BooleanField(
        label=_("Old enough to agree to recordings alone, by the rules of this place"), required=False
    )
    field_order = ["name", "horn", "level", "how_many", "of_age"]

    def clean(self) -> dict[str, Any]:
        sent = super().clean() or self.cleaned_data
        if sent.get("name") and sent.get("how_many", 1) > 1:
            self.add_error("how_many", _("One code for one name. Leave the name empty for a sheet of codes."))
        return sent


class StaffCodeForm(forms.Form):
    """A code for a teacher, an assistant, or a substitute who leaves again."""

    role = forms.ChoiceField(label=_("What they may do"), choices=STAFF_ROLES)
    name = forms.CharField(label=_("Name"), max_length=80, required=False)
    ends_on = forms.DateField(
        label=_("Last day, for a substitute"),
        required=False,
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        help_text=_("From the day after, nothing of the studio opens for them. Empty: stays."),
    )

    def __init__(self, *args: Any, today: dt.date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self._today = today

    def clean_ends_on(self) -> dt.date | None:
        last: dt.date | None = self.cleaned_data["ends_on"]
        if last is not None and last < self._today:
            raise forms.ValidationError(_("That day is over. Write one that is still to come, or leave it empty."))
        return last
