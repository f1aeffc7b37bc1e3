"""Each request: from where it comes, and that the sign-in behind it stays alive while it is used, but not for ever."""

from __future__ import annotations

import time
from collections.abc import Callable

from django.conf import settings
from django.contrib.auth import logout
from django.http import HttpRequest, HttpResponse

from studio import access_log, sessions

RENEW_EVERY_S = 3600  # so often a sign-in in use is written down as seen


class Visit:
    """Stands after the authentication middleware. Requests without a session's cookie cost nothing."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        access_log.came_from.set(request.META.get("REMOTE_ADDR") or None)
        if settings.SESSION_COOKIE_NAME in request.COOKIES and request.user.is_authenticated:
            self._keep_alive(request)
        return self.get_response(request)

    def _keep_alive(self, request: HttpRequest) -> None:
        if sessions.is_too_old(request.session):
            logout(request)
        elif time.time() - request.session.get(sessions.SEEN, 0) > RENEW_EVERY_S:
            request.session[sessions.SEEN] = int(time.time())
