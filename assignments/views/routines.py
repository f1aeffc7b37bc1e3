"""Routines: looking through them, building one, taking one away."""

from __future__ import annotations

import uuid

from django.contrib.auth.decorators import login_required
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.views.decorators.http import require_http_methods, require_safe

from assignments import routines as routine_rows
from assignments.forms import RoutineForm
from assignments.models import Routine
from assignments.queries import routines as routines_query
from assignments.refusals import Refusal
from assignments.views.desk import decides, desk
from studio.access import DECIDERS, horns_of_staff, staff_membership
from studio.models import Studio
from studio.signed_in import SignedInRequest


@login_required
@require_safe
def routines(request: SignedInRequest) -> HttpResponse:
    staff = staff_membership(request.user)
    page = routines_query.offered(staff.studio)
    students = horns_of_staff(staff) if decides(staff) else ()
    return desk(request, "routines.html", "routines", {"page": page, "students": students}, staff=staff)


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def new_routine(request: SignedInRequest) -> HttpResponse:
    """Build one; ``?from=`` begins with what another holds."""
    studio = staff_membership(request.user, DECIDERS).studio
    offered = {str(one.pk): one for one in routine_rows.offered(studio)}
    return _routine_page(request, studio, None, offered.get(request.GET.get("from", "")))


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def routine(request: SignedInRequest, routine_id: uuid.UUID) -> HttpResponse:
    """Change one of the studio's own, or take it away. Weeks that were set from it stay as they are."""
    studio = staff_membership(request.user, DECIDERS).studio
    own = get_object_or_404(studio.routines, pk=routine_id)
    if request.method == "POST" and "remove" in request.POST:
        own.delete()
        return redirect("routines")
    return _routine_page(request, studio, own, own)


def _routine_page(
    request: SignedInRequest, studio: Studio, own: Routine | None, begin_with: Routine | None
) -> HttpResponse:
    form = RoutineForm(request.POST or None, initial=routines_query.initial(begin_with, is_copy=own is None))
    refused = ""
    if request.method == "POST" and form.is_valid():
        sent = form.cleaned_data
        try:
            routine_rows.keep(
                studio=studio,
                name=sent["name"],
                summary=sent["summary"],
                block_kinds=sent["blocks"],
                tones=sent["tones"],
                routine=own,
            )
            return redirect("routines")
        except Refusal as refusal:
            refused = refusal.text
    page = routines_query.editing(form["blocks"].value(), form["tones"].value())
    context = {"form": form, "own": own, "page": page, "refused": refused}
    return desk(request, "routine.html", "routines", context, 400 if request.method == "POST" else 200)
