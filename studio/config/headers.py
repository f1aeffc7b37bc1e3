"""Answers' headers that no package sets."""

from collections.abc import Callable

from django.conf import settings
from django.http import HttpRequest, HttpResponse


class Headers:
    """Microphone for our own pages only; nothing is kept in a browser's cache unless its view says so."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        response = self.get_response(request)
        response.headers.setdefault("Permissions-Policy", settings.PERMISSIONS_POLICY)
        response.headers.setdefault("Cache-Control", "private, no-store")
        return response
