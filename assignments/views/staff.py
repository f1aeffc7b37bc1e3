"""The owner's pages: what somebody on the staff may do and until when, who takes over, and who did what."""

from __future__ import annotations

import uuid

from django.contrib.auth.decorators import login_required
from django.http import HttpResponse
from django.shortcuts import redirect
from django.views.decorators.http import require_http_methods, require_safe

from assignments.queries import logged
from assignments.queries import people as people_query
from assignments.views.desk import desk, slip_page
from studio import enrolment, second_step, sessions
from studio.access import Role, colleague_of_owner, is_resettable_by, resettable_by, staff_membership
from studio.models import Membership, SecondStep
from studio.signed_in import SignedInRequest
from studio.staff_forms import HandOverForm, PlaceForm


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def colleague(request: SignedInRequest, membership_id: uuid.UUID) -> HttpResponse:
    """One teacher, assistant or owner. Which of the page's forms was sent stands in ``what``."""
    member = colleague_of_owner(request.user, membership_id)
    what = request.POST.get("what", "")
    if what in NEW_WAYS_IN:
        return NEW_WAYS_IN[what](request, _resettable(request, member))
    begin = {"role": member.role, "ends_on": member.ends_on}
    place = PlaceForm(request.POST if what == "place" else None, initial=begin)
    others = people_query.teachers(member.studio).exclude(pk=member.pk)
    over = HandOverForm(request.POST if what == "hand_over" else None, teachers=others)
    if what == "place" and place.is_valid():
        sent = place.cleaned_data
        try:
            enrolment.change_place(member, role=sent["role"], ends_on=sent["ends_on"], by=request.user)
            return redirect("colleague", membership_id=member.pk)
        except enrolment.PlaceRefusedError as error:
            place.add_error(None, str(error))
    if what == "hand_over" and over.is_valid():
        enrolment.hand_over(member, to=over.cleaned_data["to"], by=request.user)
        return redirect("colleague", membership_id=member.pk)
    context = {
        "member": member,
        "place": place,
        "over": over,
        "students": member.students.select_related("user").order_by("user__name"),
        "step": SecondStep.objects.filter(user=member.user).first(),
        "may_reset": is_resettable_by(staff_membership(request.user, (Role.OWNER,)), member),
    }
    return desk(request, "colleague.html", "people", context, 400 if request.method == "POST" else 200)


def _sign_out(request: SignedInRequest, member: Membership) -> HttpResponse:
    sessions.end_all(member.user)
    return redirect("colleague", membership_id=member.pk)


def _new_passphrase(request: SignedInRequest, member: Membership) -> HttpResponse:
    return slip_page(request, member, enrolment.change_passphrase(member, by=request.user))


def _second_step_off(request: SignedInRequest, member: Membership) -> HttpResponse:
    second_step.turn_off(member.user, by=request.user)
    return redirect("colleague", membership_id=member.pk)


NEW_WAYS_IN = {"sign_out": _sign_out, "passphrase": _new_passphrase, "second_step": _second_step_off}


@login_required
@require_safe
def log(request: SignedInRequest) -> HttpResponse:
    """Who did what in the studio."""
    owner = staff_membership(request.user, (Role.OWNER,))
    return desk(request, "log.html", "people", {"entries": logged.of_studio(owner.studio)})


def _resettable(request: SignedInRequest, member: Membership) -> Membership:
    return resettable_by(staff_membership(request.user, (Role.OWNER,)), member)
