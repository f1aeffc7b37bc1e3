"""Signing in and out. Pages that can't be shown have their words in templates/400.html to 500.html."""

from __future__ import annotations

from typing import Any

from django.contrib.auth.views import LoginView
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render

from studio import devices, founding, throttle
from studio.forms import SignInForm
from studio.views.second_step import enter


class SignIn(LoginView):
    template_name = "studio/sign_in.html"
    authentication_form = SignInForm
    redirect_authenticated_user = True
    http_method_names = ["get", "head", "post"]

    def get(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        """On a shared device it is asked whose turn it is; ``?grown-up`` asks for a name and a passphrase there too."""
        if "grown-up" not in request.GET and not request.user.is_authenticated and devices.of_request(request):
            return redirect("whose_turn")
        return super().get(request, *args, **kwargs)

    def get_context_data(self, **kwargs: Any) -> dict[str, Any]:
        return super().get_context_data(is_empty=founding.is_empty(), **kwargs)

    def post(self, request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        """Fifty wrong ones an hour from one address, whatever the names: then nobody there is looked at for a while."""
        wait_s = throttle.wait_s(request.META["REMOTE_ADDR"], throttle.SIGN_IN)
        if wait_s:
            page = render(request, "studio/locked_out.html", status=429)
            page["Retry-After"] = str(wait_s)
            return page
        return super().post(request, *args, **kwargs)

    def form_invalid(self, form: SignInForm) -> HttpResponse:  # type: ignore[override]  # the form named above
        if form.cleaned_data.keys() >= {"username", "password"}:  # a guess; a form sent off half empty is none
            throttle.note(self.request.META["REMOTE_ADDR"], throttle.SIGN_IN)
        return super().form_invalid(form)

    def form_valid(self, form: SignInForm) -> HttpResponse:  # type: ignore[override]  # the form named above
        return enter(self.request, form.get_user(), self.get_success_url())  # type: ignore[arg-type]  # a User of ours
