"""In which language somebody reads, and what the notes are called for them.

Signed in, it is the person's own choice; else what was chosen on this device (a cookie that Django's own middleware
reads), else what the browser asks for. Note names follow the language unless the person has set them apart.
"""

from __future__ import annotations

from collections.abc import Callable
from contextvars import ContextVar

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.utils import translation

from studio.models import User

CODES = tuple(code for code, _name in settings.LANGUAGES)

_own_names: ContextVar[str] = ContextVar("_own_names", default="")  # set anew with each request


def names_language() -> str:
    """The language whose note names are used now."""
    return _own_names.get() or translation.get_language() or settings.LANGUAGE_CODE


class OwnLanguage:
    """Stands after the sign-in is known, and lays a person's choice over the browser's."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        names = ""
        if settings.SESSION_COOKIE_NAME in request.COOKIES and isinstance(request.user, User):
            names = known(request.user.note_names)
            if known(request.user.language):
                translation.activate(request.user.language)
                request.LANGUAGE_CODE = request.user.language
        _own_names.set(names)
        return self.get_response(request)


def known(code: str) -> str:
    """``code``, or nothing for a language that is not among ours (any more)."""
    return code if code in CODES else ""


def choose(user: User, response: HttpResponse, *, language: str, note_names: str) -> None:
    """What somebody reads in from now on, and what the notes are called for them; on this device too."""
    user.language, user.note_names = language, note_names
    user.save(update_fields=["language", "note_names"])
    remember(response, language)


def remember(response: HttpResponse, code: str) -> None:
    """On this device: for the pages before signing in. Without a code, the browser's language comes back."""
    if not code:
        response.delete_cookie(settings.LANGUAGE_COOKIE_NAME, samesite="Lax")
        return
    response.set_cookie(
        settings.LANGUAGE_COOKIE_NAME,
        code,
        max_age=settings.LANGUAGE_COOKIE_AGE,
        secure=settings.LANGUAGE_COOKIE_SECURE,
        httponly=settings.LANGUAGE_COOKIE_HTTPONLY,
        samesite="Lax",
    )
