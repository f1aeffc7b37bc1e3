"""Answers' headers that no package sets."""

from collections.abc import Callable
from http import HTTPStatus
from io import BytesIO
from typing import Any

from csp.middleware import CSPMiddleware
from django.conf import settings
from django.core.handlers.wsgi import WSGIRequest
from django.http import HttpRequest, HttpResponse
from django.middleware.clickjacking import XFrameOptionsMiddleware
from django.middleware.security import SecurityMiddleware

from studio import tracing


class Headers:
    """Stands outside of everything that may answer by itself: a strange host, a line that is not private.

    Microphone for our own pages only; nothing stays in a browser's cache unless its view says so.

    Who is shut out for guessing passphrases is told for how long.
    """

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        known = tracing.begin(request.headers.get(tracing.HEADER, ""))
        response = self.get_response(request)
        response.headers[tracing.HEADER] = known
        response.headers.setdefault("X-Content-Type-Options", "nosniff")
        response.headers.setdefault("Permissions-Policy", settings.PERMISSIONS_POLICY)
        response.headers.setdefault("Cache-Control", "private, no-store")
        if response.status_code == HTTPStatus.TOO_MANY_REQUESTS:
            response.headers.setdefault("Retry-After", str(int(settings.AXES_COOLOFF_TIME.total_seconds())))
        return response


def without_a_page() -> dict[str, str]:
    """What an answer carries that the server gives by itself: the same, from the same middlewares."""
    scheme = "https" if settings.SECURE_SSL_REDIRECT else "http"  # by the other one it would lead there
    asked = WSGIRequest({"REQUEST_METHOD": "GET", "wsgi.input": BytesIO(), "wsgi.url_scheme": scheme})
    bare = XFrameOptionsMiddleware(lambda _request: HttpResponse())
    chain: Callable[[HttpRequest], Any] = CSPMiddleware(SecurityMiddleware(bare))
    carried = Headers(chain)(asked).headers
    return {name: value for name, value in carried.items() if name != "Content-Type"}
