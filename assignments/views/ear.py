"""A teacher's own ear: tones heard blind, and the limits that follow from the answers."""

from __future__ import annotations

from random import SystemRandom

from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from assignments import ear_answers
from assignments.queries import ear as ear_query
from assignments.queries import ear_found as found_query
from assignments.refusals import Refusal
from assignments.views.desk import desk, key_in
from studio.access import DECIDERS, staff_membership
from studio.models import Horn
from studio.signed_in import SignedInRequest


@login_required
@require_safe
def ear(request: SignedInRequest) -> HttpResponse:
    """The next tone, without its verdict and without a name."""
    staff = staff_membership(request.user, DECIDERS)
    page = ear_query.page(staff, request.GET.get("level", ""), SystemRandom())
    return desk(request, "ear.html", "routines", {"page": page}, staff=staff)


@login_required
@require_POST
def answer(request: SignedInRequest) -> HttpResponse:
    """Accept, not yet, or the last answer taken back; anything else changes nothing."""
    staff = staff_membership(request.user, DECIDERS)
    said, level = request.POST.get("answer", ""), _level(request.POST.get("level", ""))
    if said == "take_back":
        ear_answers.take_back(by=request.user, level=level)
    elif said in ("accept", "not_yet"):
        about = get_object_or_404(ear_query.pool_of(staff, level), pk=key_in(request.POST.get("tone", "")))
        ear_answers.answer(about, by=request.user, accepted=said == "accept")
    return redirect(f"{reverse('ear')}?level={level}")


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def ear_found(request: SignedInRequest) -> HttpResponse:
    """What the answers say about each target. POST: a limit is taken for the weeks to come, or given back."""
    staff = staff_membership(request.user, DECIDERS)
    level = _level(request.GET.get("level", ""))
    page = found_query.page(staff, level)
    refused = ""
    if request.method == "POST":
        measure = request.POST.get("measure", "")
        line = next((one for one in page.lines if one.measure == measure), None)
        try:
            if line is None or "back" in request.POST:
                ear_answers.back_to_table(measure, studio=staff.studio, level=level, by=request.user)
            else:
                ear_answers.adopt(line.found, studio=staff.studio, level=level, by=request.user)
            return redirect(f"{reverse('ear_found')}?level={level}")
        except Refusal as refusal:
            refused = refusal.text
    status = 409 if refused else 200
    return desk(request, "ear_found.html", "routines", {"page": page, "refused": refused}, status, staff=staff)


def _level(text: str) -> str:
    """A level of the table; without one the middle one."""
    if text and text not in Horn.Level.values:
        raise Http404
    return text or Horn.Level.INTERMEDIATE
