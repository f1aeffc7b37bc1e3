"""What an owner fills in about the staff."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.db.models import Q, QuerySet
from django.utils.translation import gettext_lazy as _

from studio import second_step
from studio.house_rules import A4_HZ, KEEP_DAYS
from studio.models import Membership, Studio, User

Role = Membership.Role


class PlaceForm(forms.Form):
    """A role and a last day. A studio is never left without an owner."""

    role = forms.ChoiceField(
        label=_("What they may do"),
        choices=[
            (Role.ASSISTANT, _("assistant: sees and hears")),
            (Role.TEACHER, _("teacher: also sets weeks and decides")),
            (Role.OWNER, _("owner: also decides about people and what is kept")),
        ],
    )
    ends_on = forms.DateField(
        label=_("Last day"),
        required=False,
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        help_text=_("From the day after, nothing of the studio opens for them. Empty: stays."),
    )

    def __init__(self, *args: Any, member: Membership, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self._member = member

    def clean(self) -> dict[str, Any]:
        sent = super().clean() or self.cleaned_data
        stays_owner = sent.get("role") == Role.OWNER and sent.get("ends_on") is None
        if self._member.role == Role.OWNER and not stays_owner and not self._another_owner(sent.get("ends_on")):
            raise ValidationError(_("Make somebody else an owner first: a studio is never without one."))
        other = Membership.objects.filter(user=self._member.user, studio=self._member.studio, role=sent.get("role"))
        if other.exclude(pk=self._member.pk).exists():
            raise ValidationError(_("This person has a place with that role already."))
        return sent

    def _another_owner(self, until: dt.date | None) -> bool:
        owners = Membership.objects.filter(studio=self._member.studio, role=Role.OWNER).exclude(pk=self._member.pk)
        return owners.filter(Q(ends_on=None) | Q(ends_on__gt=until or dt.date.max)).exists()


class HandOverForm(forms.Form):
    """Who takes over the students of somebody who leaves."""

    to = forms.ModelChoiceField(label=_("To whom"), queryset=Membership.objects.none())

    def __init__(self, *args: Any, teachers: QuerySet[Membership], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field: Any = self.fields["to"]
        field.queryset = teachers
        field.label_from_instance = lambda member: member.user.name


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
        field: Any = self.fields["teachers"]
        field.queryset = teachers
        field.label_from_instance = lambda member: member.user.name


class HouseRulesForm(forms.ModelForm):  # type: ignore[type-arg]  # of a Studio
    """What the owner settles for everybody."""

    a4_hz = forms.FloatField(
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

    def clean_second_step_for_staff(self) -> bool:
        wanted: bool = self.cleaned_data["second_step_for_staff"]
        if wanted and not second_step.is_on(self._owner):
            raise ValidationError(_("Set up your own second step first: this page would shut itself to you."))
        return wanted
