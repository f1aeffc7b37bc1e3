"""Each request: from where it comes, that the sign-in behind it stays alive while it is used but not for ever, that it
is of whom it says, and where to go when a page stays shut until there is a second step."""

from __future__ import annotations

import time
from collections.abc import Callable

from django.conf import settings
from django.contrib.auth import logout
from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect

from studio import access_log, devices, second_step, sessions
from studio.models import User

RENEW_EVERY_S = 3600  # so often a sign-in in use is written down as seen
SENT_FOR = "Footing-For"  # the key of the user for whom a page that stands open sends what waited


class Visit:
    """Stands after the authentication middleware. Requests without a session's cookie cost nothing."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        access_log.came_from.set(request.META.get("REMOTE_ADDR") or None)
        if settings.SESSION_COOKIE_NAME in request.COOKIES and request.user.is_authenticated:
            self._keep_alive(request, request.user)
            if request.headers.get(SENT_FOR) not in (None, str(request.user.pk)):  # the device was handed on meanwhile
                return JsonResponse({"code": "other_person"}, status=403)
        return self.get_response(request)

    def process_exception(self, request: HttpRequest, trouble: Exception) -> HttpResponse | None:
        """What a studio keeps shut until its staff have a second step answers 404 like everything shut; they are told.

        Programs get the 404: the framework of the API answers for itself.
        """
        if isinstance(trouble, Http404) and isinstance(request.user, User) and second_step.is_owed(request.user):
            return redirect("second_step")
        return None

    def _keep_alive(self, request: HttpRequest, user: User) -> None:
        is_by_pin = sessions.SHARED in request.session
        if sessions.is_too_old(request.session) or (is_by_pin and not devices.opens(request, user)):
            logout(request)
        elif time.time() - request.session.get(sessions.SEEN, 0) > RENEW_EVERY_S:
            request.session[sessions.SEEN] = int(time.time())
