"""One target of one student, moved."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from assignments.exercises import LEVELS, TONE_WORDS
from assignments.naming import note_plain, tone_said
from assignments.targets import MEASURES


class TargetForm(forms.Form):
    """Which target, for which note and tone, and the new limit in the unit that stands beside its name."""

    measure = forms.ChoiceField(label=_("Target"))
    limit = forms.FloatField(
        label=_("New limit"), min_value=0, widget=forms.NumberInput(attrs={"step": "any", "inputmode": "decimal"})
    )
    written_midi = forms.TypedChoiceField(label=_("Note"), coerce=int, required=False, empty_value=None)
    tone = forms.ChoiceField(label=_("Level or shape"), required=False)

    def __init__(self, *args: Any, written_range: tuple[int, int], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        low, high = written_range
        choices: dict[str, list[tuple[Any, Any]]] = {
            "measure": [(key, f"{one.label} ({one.unit})") for key, one in MEASURES.items()],
            "written_midi": [("", _("every note")), *((midi, note_plain(midi)) for midi in range(high, low - 1, -1))],
            "tone": [("", _("every level and shape")), *((tone, _tone(tone)) for tone in TONE_WORDS)],
        }
        for name, offered in choices.items():
            self.fields[name].choices = offered  # type: ignore[attr-defined]  # a choice field

    @property
    def value(self) -> float:
        """The limit in the table's unit."""
        sent = self.cleaned_data
        return float(sent["limit"]) / MEASURES[sent["measure"]].shown


def _tone(tone: str) -> str:
    """A level by its sign, a shape by its name."""
    return tone if tone in LEVELS else tone_said(tone)
