"""Signing in and out. Pages that can't be shown have their words in templates/400.html to 500.html."""

from __future__ import annotations

from django.contrib.auth.views import LoginView

from studio.forms import SignInForm


class SignIn(LoginView):
    template_name = "studio/sign_in.html"
    authentication_form = SignInForm
    redirect_authenticated_user = True
