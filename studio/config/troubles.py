"""What is answered when a page breaks: our fault; or, with the database away, when to come again."""

from __future__ import annotations

import sys

from django.db import InterfaceError, OperationalError
from django.http import HttpRequest, HttpResponse
from django.template import loader
from django.views.decorators.csrf import requires_csrf_token
from django.views.defaults import server_error

AGAIN_AFTER_S = 10


@requires_csrf_token
def our_fault(request: HttpRequest) -> HttpResponse:
    """503 with Retry-After while the database can't be used: a phone keeps its recording and sends it again."""
    if not isinstance(sys.exc_info()[1], OperationalError | InterfaceError):
        return server_error(request)
    page = loader.get_template("503.html").render()
    return HttpResponse(page, status=503, headers={"Retry-After": str(AGAIN_AFTER_S)})
