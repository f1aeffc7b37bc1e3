"""Changing the gate's rule, for the studio or for one student, with what it would do told first."""

from __future__ import annotations

import uuid

from django.contrib.auth.decorators import login_required
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from assignments import rule_changes
from assignments.queries import rules as rules_query
from assignments.refusals import Refusal
from assignments.rule_forms import RuleForm, initial
from assignments.views.desk import PAGES, by_script, desk
from studio.access import DECIDERS, horn_for_staff, staff_membership
from studio.models import Horn, Studio
from studio.signed_in import SignedInRequest


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def studio_rule(request: SignedInRequest) -> HttpResponse:
    """The rule of everybody who has none of their own."""
    return _rule(request, staff_membership(request.user, DECIDERS).studio, None)


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def student_rule(request: SignedInRequest, horn_id: uuid.UUID) -> HttpResponse:
    """The rule of one student's horn."""
    horn = horn_for_staff(request.user, horn_id, DECIDERS)
    return _rule(request, horn.studio, horn)


def _rule(request: SignedInRequest, studio: Studio, horn: Horn | None) -> HttpResponse:
    """``do``: ``try`` tells what the sent rule would do, ``take`` takes it, ``back`` goes to what stands above it."""
    page = rules_query.page(studio, horn)
    do = request.POST.get("do", "")
    form = RuleForm(request.POST or None, earliest=page.earliest, initial=initial(page.asked, page.earliest))
    sent = request.method == "POST" and form.is_valid()
    refused = ""
    if do == "back" or (do == "take" and sent):
        try:
            _agree(request, studio, horn, form if do == "take" else None)
            return redirect("gate", horn_id=horn.pk) if horn else redirect("studio_rule")
        except Refusal as refusal:
            refused = refusal.text
    tried = page.foresee(form.asked) if sent else None
    context = {"page": page, "form": form, "refused": refused, "tried": tried, "now": page.foresee(page.asked)}
    status = 400 if request.method == "POST" and (refused or not sent) else 200
    if by_script(request):
        return render(request, PAGES + "_foreseen.html", context, status=status)
    return desk(request, "rule.html", "studio_today" if horn else "routines", context, status, studio=studio)


def _agree(request: SignedInRequest, studio: Studio, horn: Horn | None, form: RuleForm | None) -> None:
    if form is None:
        rule_changes.back(studio=studio, horn=horn, by=request.user)
        return
    sent = form.cleaned_data
    rule_changes.agree(
        studio=studio,
        horn=horn,
        by=request.user,
        chosen=form.chosen(),
        ear_stages=sent["ear_stages"],
        from_on=sent["from_on"],
        words=sent["words"],
    )
