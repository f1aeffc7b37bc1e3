"""Choosing a language and the names of the notes."""

from __future__ import annotations

from django import forms
from django.conf import settings
from django.utils.translation import gettext_lazy as _

# Said in itself: whoever looks for it may read no other.
NAMES = (("en", "C D E … A B"), ("de", "C D E … A H"), ("fr", "do ré mi … la si"))


class LanguageForm(forms.Form):
    language = forms.ChoiceField(
        label=_("Language"),
        required=False,
        widget=forms.RadioSelect,
        choices=[("", _("as the browser")), *settings.LANGUAGES],
    )
    note_names = forms.ChoiceField(
        label=_("Names of the notes"),
        required=False,
        widget=forms.RadioSelect,
        choices=[("", _("as the language")), *NAMES],
    )
