"""The owner's pages: what somebody on the staff may do and until when, who takes over, and who did what."""

from __future__ import annotations

import uuid

from django.contrib.auth.decorators import login_required
from django.http import HttpResponse
from django.shortcuts import redirect
from django.views.decorators.http import require_http_methods, require_safe

from assignments.queries import logged
from assignments.queries import people as people_query
from assignments.views.desk import desk
from studio import enrolment, sessions
from studio.access import Role, colleague_of_owner, resettable_by, staff_membership
from studio.models import Membership
from studio.signed_in import SignedInRequest
from studio.staff_forms import HandOverForm, PlaceForm


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def colleague(request: SignedInRequest, membership_id: uuid.UUID) -> HttpResponse:
    """One teacher, assistant or owner. Which of the page's forms was sent stands in ``what``."""
    member = colleague_of_owner(request.user, membership_id)
    what = request.POST.get("what", "")
    begin = {"role": member.role, "ends_on": member.ends_on}
    place = PlaceForm(request.POST if what == "place" else None, member=member, initial=begin)
    others = people_query.teachers(member.studio).exclude(pk=member.pk)
    over = HandOverForm(request.POST if what == "hand_over" else None, teachers=others)
    if what == "place" and place.is_valid():
        sent = place.cleaned_data
        enrolment.change_place(member, role=sent["role"], ends_on=sent["ends_on"], by=request.user)
        return redirect("colleague", membership_id=member.pk)
    if what == "hand_over" and over.is_valid():
        enrolment.hand_over(member, to=over.cleaned_data["to"], by=request.user)
        return redirect("colleague", membership_id=member.pk)
    if what == "sign_out":
        sessions.end_all(_resettable(request, member).user)
        return redirect("colleague", membership_id=member.pk)
    students = member.students.select_related("user").order_by("user__name")
    context = {"member": member, "place": place, "over": over, "students": students}
    return desk(request, "colleague.html", "people", context, 400 if request.method == "POST" else 200)


@login_required
@require_safe
def log(request: SignedInRequest) -> HttpResponse:
    """Who did what in the studio."""
    owner = staff_membership(request.user, (Role.OWNER,))
    return desk(request, "log.html", "people", {"entries": logged.of_studio(owner.studio)})


def _resettable(request: SignedInRequest, member: Membership) -> Membership:
    return resettable_by(staff_membership(request.user, (Role.OWNER,)), member)
