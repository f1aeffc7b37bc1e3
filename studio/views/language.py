"""Choosing a language, signed in or not."""

from __future__ import annotations

from django.core.exceptions import BadRequest
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.http import require_POST

from studio import languages
from studio.language_form import LanguageForm
from studio.models import User


@require_POST
def language(request: HttpRequest) -> HttpResponse:
    """``language`` and, of somebody signed in, ``note_names``; then back to ``next``, a page of this site."""
    form = LanguageForm(request.POST)
    if not form.is_valid():
        raise BadRequest
    chosen = form.cleaned_data
    back = request.POST.get("next", "")
    here = url_has_allowed_host_and_scheme(back, {request.get_host()}, require_https=request.is_secure())
    response = redirect(back if here else "home")
    if isinstance(request.user, User):
        languages.choose(request.user, response, **chosen)
    else:
        languages.remember(response, chosen["language"])
    return response
