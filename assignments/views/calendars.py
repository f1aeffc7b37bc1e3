"""The secret address of somebody's dates: making one, ending it, and what a calendar reads there."""

from __future__ import annotations

from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import translation
from django.views.decorators.http import require_http_methods, require_safe

from assignments import calendars
from assignments.models import CalendarAddress
from studio.access import STAFF, Role, memberships
from studio.signed_in import SignedInRequest


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def calendar_address(request: SignedInRequest) -> HttpResponse:
    """POST ``what``: "make" a new address, shown this once, or "end" the one there is."""
    if not memberships(request.user, (*STAFF, Role.STUDENT, Role.GUARDIAN)).exists():
        raise Http404
    address = ""
    if request.method == "POST" and request.POST.get("what") == "end":
        calendars.revoke(request.user)
        return redirect("calendar_address")
    if request.method == "POST":
        secret = calendars.make(request.user)
        address = request.build_absolute_uri(reverse("calendar_feed", args=[secret]))
    made = CalendarAddress.objects.filter(user=request.user).first()
    answer = render(request, "assignments/calendar_address.html", {"made": made, "address": address})
    answer["Cache-Control"] = "private, no-store"
    return answer


@require_safe
def calendar_feed(request: HttpRequest, secret: str) -> HttpResponse:
    """Nobody signs in here: calendars can't. A wrong secret is a page that isn't there."""
    row = calendars.reader_of(secret)
    if row is None:
        raise Http404
    with translation.override(row.language):
        answer = HttpResponse(calendars.feed(row.user), content_type="text/calendar; charset=utf-8")
    answer["Content-Disposition"] = 'inline; filename="footing.ics"'
    answer["Cache-Control"] = "private, no-store"
    answer["Referrer-Policy"] = "no-referrer"
    return answer
