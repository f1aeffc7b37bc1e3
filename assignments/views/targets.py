"""Moving one student's targets."""

from __future__ import annotations

import uuid

from django.contrib.auth.decorators import login_required
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.views.decorators.http import require_http_methods

from assignments import note_offsets, targets
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
    status = 400 if request.method == "POST" else 200
    return desk(request, "targets.html", "studio_today", context, status, studio=horn.studio)


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


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def note_lies(request: SignedInRequest, horn_id: uuid.UUID) -> HttpResponse:
    """Where this horn's own notes lie. POST confirms proposals (``notes``), or takes one back (``back``)."""
    horn = horn_for_staff(request.user, horn_id, DECIDERS)
    refused, status = "", 200
    if request.method == "POST":
        try:
            if "back" in request.POST:
                note_offsets.take_back(horn, by=request.user, written_midi=_midi(request.POST["back"]))
            else:
                note_offsets.confirm(horn, by=request.user, notes=map(_midi, request.POST.getlist("notes")))
            return redirect("note_lies", horn_id=horn.pk)
        except Refusal as refusal:
            refused, status = refusal.text, refusal.status
    held = [(midi, cents) for midi, cents in sorted(note_offsets.held(horn).items()) if cents]
    context = {"horn": horn, "proposed": note_offsets.proposed(horn), "held": held, "refused": refused}
    context |= {"takes": note_offsets.LEAST_TAKES, "days": note_offsets.LEAST_DAYS}
    return desk(request, "note_lies.html", "studio_today", context, status, studio=horn.studio)


def _midi(text: str) -> int:
    """A written note that a form sent; no note for anything else."""
    return int(text) if text.isascii() and text.isdigit() and len(text) <= len("127") else -1
