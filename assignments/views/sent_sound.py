"""Answers to forms that carry a recording: for the page's script, which keeps the sound until it is here; or plain."""

from __future__ import annotations

from django import forms
from django.http import HttpResponse, JsonResponse
from django.shortcuts import redirect

from assignments.views.desk import by_script
from studio.signed_in import SignedInRequest


def arrived(request: SignedInRequest, address: str) -> HttpResponse:
    """It is here: go on to ``address``."""
    return JsonResponse({"to": address}) if by_script(request) else redirect(address)


def told(words: str, status: int) -> HttpResponse:
    """For the script alone: why it did not go. What was recorded stays in the page."""
    return JsonResponse({"text": words}, status=status)


def what_is_missing(form: forms.Form) -> str:
    """The errors of a form in one line."""
    return " ".join(str(error) for errors in form.errors.values() for error in errors)
