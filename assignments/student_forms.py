"""What a student's pages take in."""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from typing import Any, cast

from django import forms
from django.utils.translation import gettext_lazy as _

from assignments.queries.playing import Panel
from studio.language_form import LanguageForm
from studio.models import User


class TakeFileForm(forms.Form):
    """A recording chosen by hand, for one, some or all tones."""

    client_key = forms.UUIDField(widget=forms.HiddenInput, initial=uuid.uuid4)
    slots = forms.TypedMultipleChoiceField(
        label=_("Which tones are in it, in this order?"), coerce=int, widget=forms.CheckboxSelectMultiple
    )
    moved = forms.BooleanField(label=_("The phone lay in another spot than for the last run"), required=False)
    recorded = forms.FileField(
        label=_("Record one now"), required=False, widget=forms.FileInput(attrs={"accept": "audio/*", "capture": True})
    )
    chosen = forms.FileField(
        label=_("Choose a recording"), required=False, widget=forms.FileInput(attrs={"accept": "audio/*,video/mp4"})
    )

    def __init__(self, *args: Any, panels: Sequence[Panel], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        cast(forms.ChoiceField, self.fields["slots"]).choices = [(one.slot, one.title) for one in panels]

    def clean(self) -> dict[str, Any]:
        sent = super().clean() or {}
        files = [sent[name] for name in ("recorded", "chosen") if sent.get(name)]
        if len(files) != 1 and not self.errors:
            raise forms.ValidationError(_("Choose one recording, then send it."))
        sent["audio"] = files[0] if files else None
        return sent


class HurtsForm(forms.Form):
    """Stopping for today. A phone without network says later which day that was."""

    plan = forms.UUIDField(required=False)
    tell = forms.ChoiceField(choices=[("yes", ""), ("no", "")], required=False)


class NoteForm(forms.Form):
    """A few words to the teacher."""

    text = forms.CharField(
        label=_("What do you want to say?"), max_length=500, widget=forms.Textarea(attrs={"rows": 3})
    )


class MineForm(LanguageForm):
    """How the pages look to one person, and in which language they speak."""

    field_order = ("light", "type_size", "horn", "language", "note_names")
    TYPE_SIZES = (("", _("as it is")), ("125", _("larger")), ("150", _("large")), ("200", _("very large")))

    light = forms.ChoiceField(label=_("Light"), choices=User.Light.choices, widget=forms.RadioSelect)
    type_size = forms.ChoiceField(
        label=_("Type on this device"), choices=TYPE_SIZES, required=False, widget=forms.RadioSelect
    )
    horn = forms.ChoiceField(label=_("Horn"), required=False, widget=forms.RadioSelect)

    def __init__(self, *args: Any, horns: Sequence[tuple[str, str]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        cast(forms.ChoiceField, self.fields["horn"]).choices = horns
        if len(horns) < 2:
            del self.fields["horn"]
