"""``{% choose_language %}``: the choice of a language, for pages before and after signing in."""

from __future__ import annotations

from typing import Any

from django import template
from django.conf import settings
from django.template.context import Context

from studio.language_form import LanguageForm

register = template.Library()


@register.inclusion_tag("studio/_language.html", takes_context=True)
def choose_language(context: Context) -> dict[str, Any]:
    """Needs ``request``. Signed in: a form with the note names too; else a button for each language."""
    request = context["request"]
    user = request.user
    form = LanguageForm(initial={"language": user.language, "note_names": user.note_names}) if user.pk else None
    return {
        "form": form,
        "languages": settings.LANGUAGES,
        "next": request.get_full_path(),
        "csrf_token": context.get("csrf_token"),
    }
