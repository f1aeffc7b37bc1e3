"""Dated changes around a student's tone, and lessons that differ from the weekday."""

from __future__ import annotations

import uuid

from django.contrib.auth.decorators import login_required
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from assignments import access, equipment, lessons
from assignments.lesson_forms import EquipmentForm, LessonDayForm
from assignments.views.desk import desk
from studio.access import student_of_studio
from studio.signed_in import SignedInRequest


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def equipment_changes(request: SignedInRequest, horn_id: uuid.UUID) -> HttpResponse:
    """What changed when; whoever may see the student's tones may note it: they know which reed it is."""
    horn = access.horn_within_sight(request.user, horn_id)
    today = horn.studio.today()
    form = EquipmentForm(request.POST or None, today=today)
    if request.method == "POST" and form.is_valid():
        equipment.note(horn, by=request.user, **form.cleaned_data)
        return redirect("equipment", horn_id=horn.pk)
    made = equipment.changes(horn)
    context = {"horn": horn, "form": form, "made": made[::-1], "baseline": equipment.baseline(made, today)}
    return render(request, "assignments/equipment.html", context, status=400 if form.errors else 200)


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def lesson_days(request: SignedInRequest, membership_id: uuid.UUID) -> HttpResponse:
    """The next lessons of a student; one extra, moved or cancelled."""
    student = student_of_studio(request.user, membership_id)
    today = student.studio.today()
    form = LessonDayForm(request.POST or None, today=today)
    if request.method == "POST" and form.is_valid():
        lessons.differ(student, by=request.user, **form.cleaned_data)
        return redirect("lesson_days", membership_id=student.pk)
    context = {"student": student, "form": form, "lessons": lessons.coming(student, today)}
    return desk(request, "lesson_days.html", "people", context, 400 if form.errors else 200, studio=student.studio)
