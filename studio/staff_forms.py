"""What an owner fills in about the staff."""

from __future__ import annotations

from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.db.models import QuerySet
from django.utils.translation import gettext_lazy as _

from studio import second_step
from studio.access import is_among_others
from studio.forms import STAFF_ROLES, offer
from studio.house_rules import A4_HZ, KEEP_DAYS
from studio.models import Membership, Studio, User

Role = Membership.Role


class PlaceForm(forms.Form):
    """A role and a last day. What can't be is said by ``enrolment.change_place``."""

    role = forms.ChoiceField(
        label=_("What they may do"),
        choices=[*STAFF_ROLES, (Role.OWNER, _("owner: also decides about people and what is kept"))],
    )
    ends_on = forms.DateField(
        label=_("Last day"),
        required=False,
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        help_text=_("From the day after, nothing of the studio opens for them. Empty: stays."),
    )


class HandOverForm(forms.Form):
    """Who takes over the students of somebody who leaves."""

    to = forms.ModelChoiceField(label=_("To whom"), queryset=Membership.objects.none())

    def __init__(self, *args: Any, teachers: QuerySet[Membership], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        offer(self, "to", teachers)


class TeachersForm(forms.Form):
    """With whom a student has lessons. Everybody on the staff sees the student all the same."""

    teachers = forms.ModelMultipleChoiceField(
        label=_("Lessons with"),
        queryset=Membership.objects.none(),
        required=False,
        widget=forms.CheckboxSelectMultiple,
    )

    def __init__(self, *args: Any, teachers: QuerySet[Membership], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        offer(self, "teachers", teachers)


class HertzField(forms.FloatField):
    """Shown as people write it: 440, not 440.0."""

    def prepare_value(self, value: Any) -> Any:
        return f"{value:g}" if isinstance(value, float) else value


class HouseRulesForm(forms.ModelForm):  # type: ignore[type-arg]  # of a Studio
    """What the owner settles for everybody."""

    a4_hz = HertzField(
        label=_("A4 in Hz, for new horns"), min_value=A4_HZ[0], max_value=A4_HZ[1],
        widget=forms.NumberInput(attrs={"step": "0.5"}),
    )  # fmt: skip
    keep_takes_days = forms.IntegerField(
        label=_("Days a recording is kept"), min_value=KEEP_DAYS[0], max_value=KEEP_DAYS[1],
        help_text=_(
            "7 to 180. Fewer counts at once, for everybody. More counts for families who agree from now on; "
            "the others agreed to less, and keep that."
        ),
    )  # fmt: skip

    second_step_for_staff = forms.BooleanField(
        label=_("Teachers and assistants sign in with a second step, or see nothing of the studio"), required=False
    )

    class Meta:
        model = Studio
        fields = ("name", "time_zone", "a4_hz", "keep_takes_days", "second_step_for_staff")
        help_texts = {"time_zone": _("Like “Europe/Lisbon”: a practice day ends at midnight there.")}

    def __init__(self, *args: Any, owner: User, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self._owner = owner
        if is_among_others(self.instance):
            del self.fields["second_step_for_staff"]

    def clean_second_step_for_staff(self) -> bool:
        wanted: bool = self.cleaned_data["second_step_for_staff"]
        if wanted and not second_step.is_on(self._owner):
            raise ValidationError(_("Set up your own second step first: this page would shut itself to you."))
        return wanted
