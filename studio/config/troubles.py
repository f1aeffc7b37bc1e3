"""What is answered when a page breaks: our fault; or, with the database away, when to come again.

Both say the request's number, under which the log tells what happened; nothing of that stands on the page.
"""

from __future__ import annotations

import sys

from django.db import InterfaceError, OperationalError
from django.http import HttpRequest, HttpResponse
from django.template import loader
from django.views.decorators.csrf import requires_csrf_token

from studio.tracing import request_id

AGAIN_AFTER_S = 10


@requires_csrf_token
def our_fault(request: HttpRequest) -> HttpResponse:
    """503 with Retry-After while the database can't be used: a phone keeps its recording and sends it again."""
    is_away = isinstance(sys.exc_info()[1], OperationalError | InterfaceError)
    page = loader.get_template("503.html" if is_away else "500.html").render({"number": request_id.get()})
    if is_away:
        return HttpResponse(page, status=503, headers={"Retry-After": str(AGAIN_AFTER_S)})
    return HttpResponse(page, status=500)
