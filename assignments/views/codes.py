"""A teacher's codes: made, printed with a QR code, and taken back."""

from __future__ import annotations

import uuid

from django.contrib.auth.decorators import login_required
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST

from assignments import builds
from assignments.views.desk import desk
from studio import codes, invitations, qr
from studio.access import DECIDERS, resettable_by, staff_membership, student_of_studio
from studio.door_forms import StaffCodeForm, StudentCodesForm
from studio.invitations import Whom
from studio.models import Membership, Studio
from studio.signed_in import SignedInRequest

Role = Membership.Role


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def student_codes(request: SignedInRequest) -> HttpResponse:
    """Codes for new students, a slip each."""
    staff = staff_membership(request.user, DECIDERS)
    form = StudentCodesForm(request.POST or None, horns=builds.choices(), initial={"horn": builds.USUAL})
    if request.method == "POST" and form.is_valid():
        sent = form.cleaned_data
        whom = Whom(role=Role.STUDENT, name=sent["name"], horn=form.build(), of_age=sent["of_age"])
        return _slips(request, staff.studio, [whom] * sent["how_many"])
    return _form(request, form, "student")


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def staff_code(request: SignedInRequest) -> HttpResponse:
    """A code for a teacher, an assistant or a substitute, by the studio's owner."""
    owner = staff_membership(request.user, (Role.OWNER,))
    form = StaffCodeForm(request.POST or None, today=owner.studio.today())
    if request.method == "POST" and form.is_valid():
        sent = form.cleaned_data
        return _slips(request, owner.studio, [Whom(role=sent["role"], name=sent["name"], ends_on=sent["ends_on"])])
    return _form(request, form, "staff")


@login_required
@require_POST
def home_code(request: SignedInRequest, membership_id: uuid.UUID) -> HttpResponse:
    """A code for a student's family: a guardian's account, which leads to the permission."""
    student = student_of_studio(request.user, membership_id)
    return _slips(request, student.studio, [Whom(role=Role.GUARDIAN, ward=student)])


@login_required
@require_POST
def slip_code(request: SignedInRequest, membership_id: uuid.UUID) -> HttpResponse:
    """A code for a student who has an account and lost the way in."""
    staff = staff_membership(request.user, DECIDERS)
    student = resettable_by(staff, student_of_studio(request.user, membership_id))
    return _slips(request, student.studio, [Whom(role=Role.STUDENT, member=student)])


@login_required
@require_POST
def revoke(request: SignedInRequest, invitation_id: uuid.UUID) -> HttpResponse:
    """Take one code back. Codes for staff are the owner's alone."""
    staff = staff_membership(request.user, DECIDERS)
    found = get_object_or_404(invitations.open_ones(staff.studio), pk=invitation_id)
    if found.role in (Role.TEACHER, Role.ASSISTANT):
        staff_membership(request.user, (Role.OWNER,))
    invitations.revoke(found, by=request.user)
    return redirect("people")


def _form(request: SignedInRequest, form: StudentCodesForm | StaffCodeForm, of: str) -> HttpResponse:
    status = 400 if request.method == "POST" else 200
    return desk(request, "new_code.html", "people", {"form": form, "of": of}, status)


def _slips(request: SignedInRequest, studio: Studio, whom: list[Whom]) -> HttpResponse:
    """What is printed. The codes are shown this once."""
    address = request.build_absolute_uri(reverse("join"))
    made = [invitations.invite(one, studio=studio, by=request.user) for one in whom]
    slips = [
        {"invitation": invitation, "code": codes.shown(code), "qr": qr.drawn(f"{address}#{codes.shown(code)}")}
        for invitation, code in made
    ]
    return desk(request, "code_slips.html", "people", {"slips": slips, "address": address}, studio=studio)
