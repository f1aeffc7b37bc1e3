"""Answers' headers that no package sets."""

from collections.abc import Callable
from http import HTTPStatus

from django.conf import settings
from django.http import HttpRequest, HttpResponse

from studio import tracing


class Headers:
    """Microphone for our own pages only; nothing stays in a browser's cache unless its view says so.

    Who is shut out for guessing passphrases is told for how long.
    """

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        known = tracing.begin(request.headers.get(tracing.HEADER, ""))
        response = self.get_response(request)
        response.headers[tracing.HEADER] = known
        response.headers.setdefault("Permissions-Policy", settings.PERMISSIONS_POLICY)
        response.headers.setdefault("Cache-Control", "private, no-store")
        if response.status_code == HTTPStatus.TOO_MANY_REQUESTS:
            response.headers.setdefault("Retry-After", str(int(settings.AXES_COOLOFF_TIME.total_seconds())))
        return response
