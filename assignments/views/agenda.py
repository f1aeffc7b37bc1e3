"""The agenda of a student’s next lesson."""

from __future__ import annotations

import uuid

from django.contrib.auth.decorators import login_required
from django.http import HttpResponse
from django.shortcuts import redirect
from django.views.decorators.http import require_http_methods

from assignments import agendas
from assignments.agenda_forms import lesson_day_in, lines_in, points_in
from assignments.queries import agenda as agenda_query
from assignments.refusals import Refusal
from assignments.views.desk import desk
from studio.access import DECIDERS, STAFF, horn_for_staff
from studio.signed_in import SignedInRequest


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def agenda(request: SignedInRequest, horn_id: uuid.UUID) -> HttpResponse:
    """What is proposed or kept for the lesson; sent, it is kept with the day of the lesson that the page was of."""
    horn = horn_for_staff(request.user, horn_id, DECIDERS if request.method == "POST" else STAFF)
    page = agenda_query.page(horn, request.user)
    refused, status, new = "", 200, request.POST.get("new", "")
    if request.method == "POST":
        lines, on = lines_in(request.POST), page.on
        try:
            on = lesson_day_in(request.POST, horn.studio.today())
            moved = page.kept if on == page.on else None
            agendas.keep(horn, by=request.user, on=on, points=points_in(lines, new), instead_of=moved)
            return redirect("agenda", horn_id=horn.pk)
        except Refusal as refusal:
            refused, status = refusal.text, refusal.status
            page = agenda_query.as_sent(page, on, lines)
    context = {"page": page, "refused": refused, "sent": new}
    return desk(request, "agenda.html", "studio_today", context, status, studio=horn.studio)
