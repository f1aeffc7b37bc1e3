"""People: who belongs to the studio, on which horn, with whose permission; and the slip of paper to sign in with."""

from __future__ import annotations

import uuid
from typing import Any

from django import forms
from django.contrib.auth.decorators import login_required
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from assignments import builds, permission
from assignments.queries import people as people_query
from assignments.views.desk import PAGES, desk, key_in, slip_page
from studio import consent, enrolment, invitations, second_step, sessions
from studio.access import (
    DECIDERS,
    is_resettable_by,
    memberships,
    place_held,
    places_of_work,
    resettable_by,
    staff_membership,
    student_of_studio,
    turn_to,
)
from studio.forms import DetailsForm, HornForm, PaperConsentForm, StaffForm, StudentForm
from studio.models import Consent, Membership
from studio.signed_in import SignedInRequest
from studio.staff_forms import TeachersForm

Role = Membership.Role


@login_required
@require_safe
def people(request: SignedInRequest) -> HttpResponse:
    staff = staff_membership(request.user)
    context = {
        "page": people_query.everybody(staff.studio),
        "me": staff,
        "codes": invitations.open_ones(staff.studio),
        "elsewhere": [place for place in places_of_work(request.user) if place.studio_id != staff.studio_id],
    }
    return desk(request, "people.html", "people", context, staff=staff)


@login_required
@require_POST
def turn(request: SignedInRequest) -> HttpResponse:
    """To another studio that this person works in (``place``: their membership there)."""
    staff_membership(request.user)
    if request.POST.get("place"):
        turn_to(request.user, key_in(request.POST["place"]))
    return redirect("studio_today")


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def add_student(request: SignedInRequest) -> HttpResponse:
    """A new student with a first horn. What comes back is the slip to print, once."""
    staff = staff_membership(request.user, DECIDERS)
    begin = {"key": uuid.uuid4(), "horn": builds.USUAL}
    form = StudentForm(request.POST or None, horns=builds.choices(), initial=begin)
    if request.method == "POST" and form.is_valid():
        sent = form.cleaned_data
        membership, slip = enrolment.enrol(
            studio=staff.studio,
            role=Role.STUDENT,
            name=sent["name"],
            username=sent["username"],
            key=sent["key"],
            lesson=form.lesson(),
            by=request.user,
        )
        if slip is None:  # the form came twice
            return redirect("person", membership_id=membership.pk)
        enrolment.give_horn(player=membership, **form.build())
        return slip_page(request, membership, slip)
    return desk(request, "add_person.html", "people", {"form": form, "adds": "student"}, _status(request))


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def add_staff(request: SignedInRequest) -> HttpResponse:
    """A new teacher or assistant, by the studio's owner."""
    owner = staff_membership(request.user, (Role.OWNER,))
    form = StaffForm(request.POST or None, initial={"key": uuid.uuid4()})
    if request.method == "POST" and form.is_valid():
        sent = form.cleaned_data
        membership, slip = enrolment.enrol(
            studio=owner.studio,
            role=sent["role"],
            name=sent["name"],
            username=sent["username"],
            key=sent["key"],
            by=request.user,
        )
        return slip_page(request, membership, slip) if slip else redirect("people")
    return desk(request, "add_person.html", "people", {"form": form, "adds": "staff"}, _status(request))


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def person(request: SignedInRequest, membership_id: uuid.UUID) -> HttpResponse:
    """One student: what changes about them. Which of the page's forms was sent stands in ``what``."""
    student = student_of_studio(request.user, membership_id)
    what = request.POST.get("what", "")
    filled = {name: request.POST if what == name else None for name in ("details", "horn", "consent", "teachers")}
    details = DetailsForm(filled["details"], initial=_details(student))
    place = place_held(request.user, student.studio_id, DECIDERS)
    details.fields["name"].disabled = place is None or not is_resettable_by(place, student)  # it is read elsewhere too
    horn = HornForm(filled["horn"], horns=builds.choices(), initial={"horn": builds.USUAL})
    paper = PaperConsentForm(filled["consent"])
    teachers = TeachersForm(
        filled["teachers"],
        teachers=people_query.teachers(student.studio),
        initial={"teachers": student.teachers.all()},
    )
    if request.method == "POST":
        done = _do(request, what, student, {"details": details, "horn": horn, "consent": paper, "teachers": teachers})
        if done is not None:
            return done
    context = {
        "person": people_query.person(student),
        "details": details,
        "horn_form": horn,
        "paper": paper,
        "teachers": teachers,
        "has_second_step": second_step.is_on(student.user),
        "may_delete": memberships(request.user, (Role.OWNER,)).filter(studio=student.studio_id).exists(),
    }
    return desk(request, "person.html", "people", context, _status(request), studio=student.studio)


def _do(request: SignedInRequest, what: str, student: Membership, sent: dict[str, forms.Form]) -> HttpResponse | None:
    """Carry out one form of the page. None: there is something to put right in it."""
    if what == "passphrase":
        resettable_by(staff_membership(request.user, DECIDERS), student)
        return slip_page(request, student, enrolment.change_passphrase(student, by=request.user))
    if what == "sign_out":
        sessions.end_all(resettable_by(staff_membership(request.user, DECIDERS), student).user)
    elif what == "second_step":
        staff = staff_membership(request.user, DECIDERS)
        second_step.turn_off(resettable_by(staff, student).user, by=request.user)
    elif what == "withdraw":
        permission.take_back(student=student, by=request.user)
    elif what == "part":
        home = get_object_or_404(student.guardians, pk=key_in(request.POST.get("guardian_id", "")))
        enrolment.part(student, guardian=home, by=request.user)
        if request.POST.get("back") == "people":
            return redirect("people")
    elif what == "put_away":
        enrolment.put_horn_away(get_object_or_404(student.horns, pk=key_in(request.POST.get("horn_id", ""))))
    elif what not in sent or not sent[what].is_valid():
        return None
    else:
        _write(what, student, sent[what], request)
    return redirect("person", membership_id=student.pk)


def _write(what: str, student: Membership, form: Any, request: SignedInRequest) -> None:
    if what == "consent":
        consent.give(
            student=student,
            given_by=form.cleaned_data["given_by"],
            how=Consent.How.PAPER,
            logged_by=request.user,
        )
    elif what == "teachers":
        student.teachers.set(form.cleaned_data["teachers"])
    elif what == "horn":
        enrolment.give_horn(player=student, **form.build())
    else:
        sent = form.cleaned_data
        details = enrolment.Details(sent["name"], form.lesson(), sent["ends_on"], sent["of_age"])
        enrolment.change_details(student, details, by=request.user)


@login_required
@require_safe
def consent_form(request: SignedInRequest) -> HttpResponse:
    """The wording on paper, to be signed at home."""
    staff = staff_membership(request.user)
    return render(request, PAGES + "consent_form.html", {"studio": staff.studio, "wording": consent.WORDING})


def _details(student: Membership) -> dict[str, Any]:
    return {
        "name": student.user.name,
        "lesson_weekday": student.lesson_weekday,
        "lesson_at": student.lesson_at,
        "ends_on": student.ends_on,
        "of_age": student.of_age,
    }


def _status(request: SignedInRequest) -> int:
    """A form that comes back has something to put right."""
    return 400 if request.method == "POST" else 200
