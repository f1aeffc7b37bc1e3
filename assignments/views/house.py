"""The house: its rules, how its computer is, and which recordings are kept longer."""

from __future__ import annotations

import uuid

from django.contrib.auth.decorators import login_required
from django.http import HttpResponse
from django.shortcuts import redirect
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from assignments import access, milestones
from assignments.queries import state
from assignments.refusals import Refusal
from assignments.views.desk import desk
from studio import house_rules
from studio.access import DECIDERS, Role, horn_for_staff, staff_membership
from studio.signed_in import SignedInRequest
from studio.staff_forms import HouseRulesForm


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def rules(request: SignedInRequest) -> HttpResponse:
    """The owner's: name, clock, tuning, and for how many days a recording is kept."""
    studio = staff_membership(request.user, (Role.OWNER,)).studio
    form = HouseRulesForm(request.POST or None, instance=studio, owner=request.user)
    if request.method == "POST" and form.is_valid():
        house_rules.change(form.save(commit=False), by=request.user)
        return redirect("people")
    return desk(request, "house_rules.html", "people", {"form": form}, 400 if form.errors else 200)


@login_required
@require_safe
def house_state(request: SignedInRequest) -> HttpResponse:
    """The owner's: what waits, what was given up, how much room is left, when a backup was made."""
    owner = staff_membership(request.user, (Role.OWNER,))
    return desk(request, "state.html", "people", {"page": state.read(owner.studio)}, staff=owner)


@login_required
@require_POST
def milestone(request: SignedInRequest, take_id: uuid.UUID) -> HttpResponse:
    """Keep one recording for a year, or let it go (``what`` = ``let_go``)."""
    take = access.take_within_sight(request.user, take_id)
    horn = horn_for_staff(request.user, take.horn_id, DECIDERS)
    if request.POST.get("what") == "let_go":
        milestones.let_go(take)
        return redirect("take", take_id=take.pk)
    try:
        milestones.keep(take, by=request.user)
    except Refusal as refusal:
        context = {"refusal": refusal, "take": take}
        return desk(request, "refused.html", "studio_today", context, refusal.status, studio=horn.studio)
    return redirect("take", take_id=take.pk)
