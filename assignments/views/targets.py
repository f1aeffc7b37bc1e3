"""Moving one student's targets."""

from __future__ import annotations

import uuid

from django.contrib.auth.decorators import login_required
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.views.decorators.http import require_http_methods

from assignments import targets
from assignments.queries import targets as targets_query
from assignments.refusals import Refusal
from assignments.target_forms import TargetForm
from assignments.views.desk import desk, key_in
from studio.access import DECIDERS, horn_for_staff
from studio.models import Horn
from studio.signed_in import SignedInRequest


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def student_targets(request: SignedInRequest, horn_id: uuid.UUID) -> HttpResponse:
    """What a tone is held against. POST moves one limit, or takes one back (``back``: which)."""
    horn = horn_for_staff(request.user, horn_id, DECIDERS)
    refused = ""
    form = TargetForm(
        request.POST if request.method == "POST" and "back" not in request.POST else None,
        written_range=horn.written_range,
        initial={name: request.GET.get(name, "") for name in ("measure", "written_midi", "tone")},
    )
    if request.method == "POST":
        try:
            if _moved(request, horn, form):
                return redirect("student_targets", horn_id=horn.pk)
        except Refusal as refusal:
            refused = refusal.text
    context = {"page": targets_query.page(horn), "form": form, "refused": refused}
    return desk(request, "targets.html", "studio_today", context, 400 if request.method == "POST" else 200)


def _moved(request: SignedInRequest, horn: Horn, form: TargetForm) -> bool:
    if "back" in request.POST:
        row = get_object_or_404(horn.target_changes, pk=key_in(request.POST["back"]))
        targets.move(
            horn, by=request.user, measure=row.measure, value=None, written_midi=row.written_midi, tone=row.tone
        )
        return True
    if not form.is_valid():
        return False
    sent = form.cleaned_data
    targets.move(
        horn,
        by=request.user,
        measure=sent["measure"],
        value=form.value,
        written_midi=sent["written_midi"],
        tone=sent["tone"],
    )
    return True
