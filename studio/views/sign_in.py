"""Signing in and out. Pages that can't be shown have their words in templates/400.html to 500.html."""

from __future__ import annotations

from typing import Any

from axes.handlers.proxy import AxesProxyHandler
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
        if throttle.is_spent(request.META["REMOTE_ADDR"], throttle.SIGN_IN):
            return self._shut()
        return super().post(request, *args, **kwargs)

    def form_invalid(self, form: SignInForm) -> HttpResponse:  # type: ignore[override]  # the form named above
        is_guess = form.cleaned_data.keys() >= {"username", "password"}  # a form sent off half empty is none
        if is_guess and not self._may_be_told(is_right=False):
            return self._shut()
        return super().form_invalid(form)

    def form_valid(self, form: SignInForm) -> HttpResponse:  # type: ignore[override]  # the form named above
        name = {"username": form.cleaned_data["username"]}
        if AxesProxyHandler.is_locked(self.request, name) or not self._may_be_told(is_right=True):
            return self._shut()  # by those that came with it
        return enter(self.request, form.get_user(), self.get_success_url())  # type: ignore[arg-type]  # a User of ours

    def _may_be_told(self, *, is_right: bool) -> bool:
        return throttle.may_be_told(self.request.META["REMOTE_ADDR"], throttle.SIGN_IN, is_right=is_right)

    def _shut(self) -> HttpResponse:
        page = render(self.request, "studio/locked_out.html", status=429)
        wait_s = throttle.wait_s(self.request.META["REMOTE_ADDR"], throttle.SIGN_IN)
        if wait_s:  # else that name alone is shut: studio.config.headers says for how long
            page["Retry-After"] = str(wait_s)
        return page
