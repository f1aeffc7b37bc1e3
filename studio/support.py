"""The door of the support pages: what stands behind it is every studio's."""

from __future__ import annotations

from django.contrib.admin import AdminSite
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from studio import second_step
from studio.models import User


class SupportSite(AdminSite):
    """The framework's, shut until a second step that is asked for is there."""

    def has_permission(self, request: HttpRequest) -> bool:
        return super().has_permission(request) and not _owes(request)


@require_http_methods(["GET", "HEAD", "POST"])
def door(request: HttpRequest) -> HttpResponse:
    """To the one door: the framework's own page would ask for no second step. Whoever is in already is led on."""
    if not isinstance(request.user, User):
        return redirect(f"{reverse('sign-in')}?{request.GET.urlencode()}")
    if not request.user.is_staff:
        raise Http404
    return redirect("second_step" if _owes(request) else "admin:index")


def _owes(request: HttpRequest) -> bool:
    return isinstance(request.user, User) and second_step.is_owed(request.user)
