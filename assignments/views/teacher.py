"""A teacher's day: who needs me, and what has changed since the last lesson."""

from __future__ import annotations

import uuid
from typing import Any

from django.contrib.auth.decorators import login_required
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.views.decorators.http import require_POST, require_safe

from assignments import access, comments, ear_answers, hearings, paper_days
from assignments.forms import CommentForm
from assignments.models import Take, Try
from assignments.queries import evenness as evenness_query
from assignments.queries import overtones as overtones_query
from assignments.queries import student as student_query
from assignments.queries import studio as studio_query
from assignments.refusals import Refusal
from assignments.views.desk import by_script, day_in, desk
from assignments.views.sent_sound import arrived, told, what_is_missing
from studio.access import DECIDERS, horn_for_staff, staff_membership
from studio.models import Horn, User
from studio.signed_in import SignedInRequest


@login_required
@require_safe
def studio_today(request: SignedInRequest) -> HttpResponse:
    return _studio(request, "studio_today")


@login_required
@require_safe
def everyone(request: SignedInRequest) -> HttpResponse:
    return _studio(request, "everyone", sort="name")


def _studio(request: SignedInRequest, here: str, sort: str = "") -> HttpResponse:
    staff = staff_membership(request.user)
    asked = request.GET.get("sort", sort)
    page = studio_query.overview(staff, asked.removeprefix("-"), asked.startswith("-"))
    return desk(request, "studio.html", here, {"page": page}, staff=staff)


@login_required
@require_safe
def student(request: SignedInRequest, horn_id: uuid.UUID) -> HttpResponse:
    horn = horn_for_staff(request.user, horn_id)
    page = student_query.since_lesson(horn, horn.studio.today(), request.user)
    return desk(request, "student.html", "studio_today", {"page": page, "form": CommentForm()}, studio=horn.studio)


@login_required
@require_safe
def student_evenness(request: SignedInRequest, horn_id: uuid.UUID) -> HttpResponse:
    """What the student sees of the up-and-down run, and the runs before it."""
    horn = horn_for_staff(request.user, horn_id)
    return desk(request, "evenness.html", "studio_today", {"page": evenness_query.page(horn)}, studio=horn.studio)


@login_required
@require_safe
def student_overtones(request: SignedInRequest, horn_id: uuid.UUID) -> HttpResponse:
    """Overtone against normal fingering, with the numbers."""
    horn = horn_for_staff(request.user, horn_id)
    return desk(request, "overtones.html", "studio_today", {"page": overtones_query.page(horn)}, studio=horn.studio)


@login_required
@require_POST
def note(request: SignedInRequest, horn_id: uuid.UUID) -> HttpResponse:
    """A lesson note, read by the student and at home."""
    return _write(request, horn_for_staff(request.user, horn_id), None)


@login_required
@require_POST
def comment(request: SignedInRequest, take_id: uuid.UUID) -> HttpResponse:
    """A word pinned to a second of one tone in a take."""
    take = access.take_within_sight(request.user, take_id)
    return _write(request, horn_for_staff(request.user, take.horn_id), take)


def _write(request: SignedInRequest, horn: Horn, take: Take | None) -> HttpResponse:
    form = CommentForm(request.POST, request.FILES)
    if form.is_valid():
        about = get_object_or_404(take.tries, pk=form.cleaned_data["about_try"]) if take else None
        try:
            _keep(horn, request.user, about, form.cleaned_data)
        except Refusal as refusal:
            form.add_error("audio", refusal.text)
        else:
            address = reverse("student", args=[horn.pk])
            if about and request.POST.get("back") == "tone":
                address = reverse("one_tone", args=[about.pk])
            return arrived(request, address)
    if by_script(request):
        return told(what_is_missing(form), 400)
    if request.POST.get("back") == "tone":
        context = {"refusal": Refusal("not_pinned", what_is_missing(form)), "take": take}
        return desk(request, "refused.html", "studio_today", context, 400, studio=horn.studio)
    page = student_query.since_lesson(horn, horn.studio.today(), request.user)
    return desk(request, "student.html", "studio_today", {"page": page, "form": form}, 400, studio=horn.studio)


def _keep(horn: Horn, by: User, about: Try | None, sent: dict[str, Any]) -> None:
    """Raises Refusal for a recording that can't be kept."""
    text, at_s = sent["text"], sent["at_s"] if about else None
    if sent["private"]:
        comments.keep_private(horn, by=by, text=text, about=about, at_s=at_s)
    elif sent["audio"]:
        key = sent["key"] or uuid.uuid4()
        comments.speak(horn, by=by, audio=sent["audio"], key=key, about=about, at_s=at_s, text=text)
    else:
        comments.note(horn, by=by, text=text, about=about, at_s=at_s)


@login_required
@require_POST
def heard(request: SignedInRequest, try_id: uuid.UUID) -> HttpResponse:
    """A tone was played to its end in the page; without scripts, its recording is opened now."""
    played = access.try_within_sight(request.user, try_id)
    horn_for_staff(request.user, played.horn_id)
    hearings.note_try(played, request.user)
    if by_script(request):
        return HttpResponse(status=204)
    return redirect("take_audio", take_id=played.take_id)


@login_required
@require_POST
def agree(request: SignedInRequest, try_id: uuid.UUID) -> HttpResponse:
    """Whether the teacher's ear comes to the same as the verdict that stands there (``said``: agree or other)."""
    played = access.try_within_sight(request.user, try_id)
    horn = horn_for_staff(request.user, played.horn_id, DECIDERS)
    try:
        ear_answers.agree(played, by=request.user, agrees=request.POST.get("said") == "agree")
    except Refusal as refusal:
        context = {"refusal": refusal, "take": played.take}
        return desk(request, "refused.html", "studio_today", context, refusal.status, studio=horn.studio)
    if request.POST.get("back") == "tone":
        return redirect("one_tone", try_id=played.pk)
    return redirect(f"{reverse('student', args=[horn.pk])}#moment-{played.pk}")


@login_required
@require_POST
def paper(request: SignedInRequest, horn_id: uuid.UUID) -> HttpResponse:
    """Which of the last days were practised from the printed card."""
    horn = horn_for_staff(request.user, horn_id, DECIDERS)
    days = map(day_in, request.POST.getlist("days"))
    paper_days.note(horn, by=request.user, days={day for day in days if day})
    return redirect(f"{reverse('student', args=[horn.pk])}#on-paper")
