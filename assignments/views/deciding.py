"""Yes, not yet, and what a teacher decides by hand."""

from __future__ import annotations

import uuid

from django.contrib.auth.decorators import login_required
from django.http import HttpResponse
from django.shortcuts import redirect
from django.views.decorators.http import require_http_methods

from assignments.answers import answer
from assignments.decisions import decide as write_decision
from assignments.exercises import STAGES
from assignments.forms import AnswerForm, OverrideForm
from assignments.models import Decision
from assignments.queries import deciding as deciding_query
from assignments.queries import gates as gates_query
from assignments.refusals import Refusal
from assignments.views.desk import desk
from studio.access import DECIDERS, STAFF, horn_for_staff
from studio.models import Horn
from studio.signed_in import SignedInRequest


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def decide(request: SignedInRequest, horn_id: uuid.UUID) -> HttpResponse:
    """Listen and decide. Everybody on the staff may listen; owners and teachers answer."""
    if request.method == "POST":
        return _answer(request, horn_for_staff(request.user, horn_id, DECIDERS))
    horn = horn_for_staff(request.user, horn_id)
    asked = request.GET.get("stage", "")
    stage = int(asked) if asked in {str(stage) for stage in STAGES} else None
    return _decide_page(request, horn, stage)


def _answer(request: SignedInRequest, horn: Horn) -> HttpResponse:
    form = AnswerForm(request.POST)
    if not form.is_valid():
        return _decide_page(request, horn, None, status=400)
    sent = form.cleaned_data
    try:
        answer(horn=horn, by=request.user, stage=sent["stage"], yes=sent["answer"] == "yes", words=sent["words"])
    except Refusal as refusal:
        return _decide_page(request, horn, sent["stage"], refusal.text, refusal.status)
    return redirect("gate", horn_id=horn.pk)


def _decide_page(
    request: SignedInRequest, horn: Horn, stage: int | None, refused: str = "", status: int = 200
) -> HttpResponse:
    page = deciding_query.deciding(horn, request.user, stage)
    context = {"page": page, "refused": refused, "words": request.POST.get("words", "")}
    return desk(request, "decide.html", "studio_today", context, status, studio=horn.studio)


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def gate(request: SignedInRequest, horn_id: uuid.UUID) -> HttpResponse:
    """The three gates, what was decided about them, and deciding by hand."""
    refused, status = "", 200
    horn = horn_for_staff(request.user, horn_id, DECIDERS if request.method == "POST" else STAFF)
    today = horn.studio.today()
    form = OverrideForm(request.POST or None, today=today, initial=_by_hand(request))
    if request.method == "POST":
        status = 400
        if form.is_valid():
            try:
                write_decision(horn=horn, by=request.user, **form.cleaned_data)
                return redirect("gate", horn_id=horn.pk)
            except Refusal as refusal:
                refused, status = refusal.text, refusal.status
    page = gates_query.gates(horn, today)
    context = {"page": page, "form": form, "refused": refused}
    return desk(request, "gate.html", "studio_today", context, status, studio=horn.studio)


def _by_hand(request: SignedInRequest) -> dict[str, str]:
    """What the form begins with: whoever came from a shut block wants to open it."""
    stage = request.GET.get("stage", "")
    return {"kind": Decision.Kind.OPEN, "stage": stage} if stage else {"kind": Decision.Kind.PAUSE}
