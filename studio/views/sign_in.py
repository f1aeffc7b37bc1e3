"""Signing in and out. Pages that can't be shown have their words in templates/400.html to 500.html."""

from __future__ import annotations

from django.contrib.auth.views import LoginView
from django.http import HttpResponse
from django.shortcuts import redirect

from studio import sessions
from studio.forms import SignInForm


class SignIn(LoginView):
    template_name = "studio/sign_in.html"
    authentication_form = SignInForm
    redirect_authenticated_user = True

    def form_valid(self, form: SignInForm) -> HttpResponse:  # type: ignore[override]  # the form named above
        sessions.begin(self.request, form.get_user())  # type: ignore[arg-type]  # a User of ours
        return redirect(self.get_success_url())
