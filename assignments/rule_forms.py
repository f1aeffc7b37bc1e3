"""The gate's rule as a form: each part a list of what a teacher may choose (data/gate.toml)."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from assignments import gate, gate_rules, stages
from assignments.forms import day_field
from assignments.gate_rules import Asked
from assignments.models import GateRule
from assignments.rule_words import OF_TONES

NEVER = ("", _("never"))
NOTE_RULES = ((0, 0), (2, 4), (3, 5))  # hits and tries; offered in pairs


def _whole(name: str, label: Any, *, never: bool = False) -> forms.TypedChoiceField:
    """A list of the whole numbers that the rule's table allows."""
    span = gate.RANGES[name]
    numbers = [(n, str(n)) for n in range(int(span.lowest or 0), int(span.highest or 0) + 1)]
    return forms.TypedChoiceField(
        label=label, coerce=int, empty_value=None, required=not never,
        choices=[*([NEVER] if never else []), *numbers],
    )  # fmt: skip


class RuleForm(forms.Form):
    """What makes a day, what opens, what shuts, and from when it counts."""

    hits = forms.TypedChoiceField(
        label=_("A day is on target with so many of 20 tones"), coerce=int,
        choices=[(n, str(n)) for n in range(14, 19)],
    )  # fmt: skip
    minimum_readable = forms.TypedChoiceField(
        label=_("Tones that could be heard, before a day counts"), coerce=int, required=False, empty_value=None,
        choices=[("", _("3 in 5 of them")), *((n, str(n)) for n in range(8, 21))],
    )  # fmt: skip
    opens_at = _whole("opens_at", _("Opens with so many days on target"))
    window_days = _whole("window_days", _("… of the last practice days"))
    window_span_days = _whole("window_span_days", _("… that lie within so many calendar days"))
    notes = forms.TypedChoiceField(
        label=_("Every note has hit"), coerce=int,
        choices=[(place, label) for place, label in enumerate((_("not asked"), _("2 of its last 4 goes"),
                                                               _("3 of its last 5 goes")))],
    )  # fmt: skip
    ear_stages = forms.TypedMultipleChoiceField(
        label=_("Your ear is asked before"), coerce=int, required=False, widget=forms.CheckboxSelectMultiple
    )
    notice_at = _whole("notice_at", _("You get a notice at so many days on target"), never=True)
    shuts_at = _whole("shuts_at", _("Shuts at so many, after three days of grace"), never=True)
    from_on = day_field(label=_("From which day on"), help_text=_("Days that were played keep the verdict they had."))
    words = forms.CharField(
        label=_("Why, in words for student and family"), required=False,
        max_length=int(GateRule._meta.get_field("words").max_length or 0),
    )  # fmt: skip

    def __init__(self, *args: Any, earliest: dt.date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self._earliest = earliest
        self.fields["ear_stages"].choices = stages.titles()  # type: ignore[attr-defined]  # a choice field
        self.fields["from_on"].widget.attrs["min"] = earliest.isoformat()

    def clean_from_on(self) -> dt.date:
        on: dt.date = self.cleaned_data["from_on"]
        if on < self._earliest:
            raise forms.ValidationError(_("Days that were played keep their verdict. Choose a later first day."))
        return on

    def clean(self) -> dict[str, Any]:
        sent = super().clean() or self.cleaned_data
        if not self.errors.keys() - {"from_on", "words"}:
            try:
                gate.rule_from(self.chosen())
            except gate.RuleError as error:
                self.add_error(error.field, gate_rules.contradiction(error.field))
        return sent

    def chosen(self) -> dict[str, Any]:
        """The fields of ``gate.Rule`` that the form holds."""
        sent = self.cleaned_data
        hits, tries = NOTE_RULES[sent["notes"]]
        numbers = ("opens_at", "window_days", "window_span_days", "notice_at", "shuts_at")
        found = {name: sent[name] for name in numbers} | {"on_target_share": sent["hits"] / OF_TONES}
        found |= {"note_tries": tries} | ({"note_hits": hits} if tries else {})
        return found | ({"minimum_readable": sent["minimum_readable"]} if sent["minimum_readable"] else {})

    @property
    def asked(self) -> Asked:
        """The same, as it would hold."""
        return Asked(tuple(sorted(self.chosen().items())), tuple(sorted(self.cleaned_data["ear_stages"])))


def initial(asked: Asked, from_on: dt.date) -> dict[str, Any]:
    """What the form begins with: what holds."""
    rule = asked.rule(OF_TONES)
    place = next((n for n, (_hits, tries) in enumerate(NOTE_RULES) if tries == rule.note_tries), len(NOTE_RULES) - 1)
    return {
        "hits": round(rule.on_target_share * OF_TONES),
        "minimum_readable": dict(asked.chosen).get("minimum_readable"),
        "opens_at": rule.opens_at,
        "window_days": rule.window_days,
        "window_span_days": rule.window_span_days,
        "notes": place,
        "ear_stages": list(asked.ear_stages),
        "notice_at": rule.notice_at,
        "shuts_at": rule.shuts_at,
        "from_on": from_on,
    }
