"""The teacher's own sound: how tones should be played, tones of the lesson, words said aloud."""

from __future__ import annotations

import uuid
from typing import Any

from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from assignments import access, comments, demonstrations, lesson_takes
from assignments.models import Demonstration, Try
from assignments.queries import demonstrations as demonstrations_query
from assignments.refusals import Refusal
from assignments.sound_forms import DemonstrationForm, LessonTakeForm, SoundForm
from assignments.views.desk import by_script, desk, key_in
from assignments.views.sent_sound import arrived, told, what_is_missing
from studio.access import DECIDERS, STAFF, horn_for_staff, horns_of_staff, staff_membership
from studio.models import Membership
from studio.signed_in import SignedInRequest


@login_required
@require_safe
def all_demonstrations(request: SignedInRequest) -> HttpResponse:
    """What the studio's teachers have shown, by instrument."""
    staff = staff_membership(request.user)
    page = demonstrations_query.page(staff.studio)
    return desk(request, "demonstrations.html", "routines", {"page": page}, staff=staff)


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def new_demonstration(request: SignedInRequest) -> HttpResponse:
    """Record one. ``?like=``: the try of a student that it is to stand beside; else ``?instrument=&note=&tone=``."""
    staff = staff_membership(request.user, DECIDERS)
    like = _like(request, staff)
    form = DemonstrationForm(request.POST or None, request.FILES or None, initial=_first_choice(request, like))
    refusal = None
    if request.method == "POST" and form.is_valid():
        sent = form.cleaned_data
        try:
            demonstrations.keep(staff.studio, by=request.user, **sent)
            return arrived(request, reverse("one_tone", args=[like.pk]) if like else reverse("demonstrations"))
        except Refusal as trouble:
            refusal = trouble
    context = {"like": like, "here": "studio_today" if like else "routines"}
    return _form_page(request, "new_demonstration.html", form, refusal, context, staff=staff)


def _like(request: SignedInRequest, staff: Membership) -> Try | None:
    asked = request.GET.get("like", "")
    if not asked:
        return None
    return get_object_or_404(Try, pk=key_in(asked), horn__in=horns_of_staff(staff))


def _first_choice(request: SignedInRequest, like: Try | None) -> dict[str, Any]:
    if like is not None:
        return {"instrument": like.horn.kind, "written_midi": like.written_midi, "tone": like.tone}
    asked = request.GET
    return {
        "instrument": asked.get("instrument", "alto"),
        "written_midi": asked.get("note", "67"),
        "tone": asked.get("tone", "mf"),
    }


@login_required
@require_POST
def delete_demonstration(request: SignedInRequest, demonstration_id: uuid.UUID) -> HttpResponse:
    """Students hear it no more; older ones of the same tone went when it was heard."""
    studio = staff_membership(request.user, DECIDERS).studio
    row = get_object_or_404(Demonstration, pk=demonstration_id, studio=studio)
    demonstrations.let_go(Demonstration.objects.filter(pk=row.pk))
    return redirect("demonstrations")


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def lesson_take(request: SignedInRequest, horn_id: uuid.UUID) -> HttpResponse:
    """Record a tone together, in the lesson, with the note that goes with it."""
    horn = horn_for_staff(request.user, horn_id, DECIDERS)
    form = LessonTakeForm(
        request.POST or None,
        request.FILES or None,
        written_range=horn.written_range,
        initial={"written_midi": request.GET.get("note", "67"), "tone": request.GET.get("tone", "mf")},
    )
    refusal = None
    try:
        lesson_takes.may_record(horn)
        if request.method == "POST" and form.is_valid():
            lesson_takes.record(horn, by=request.user, **form.cleaned_data)
            return arrived(request, f"{reverse('student', args=[horn.pk])}#lesson-note")
    except Refusal as trouble:
        refusal = trouble
    return _form_page(request, "lesson_take.html", form, refusal, {"horn": horn}, studio=horn.studio)


def _form_page(
    request: SignedInRequest,
    template: str,
    form: SoundForm,
    refusal: Refusal | None,
    context: dict[str, Any],
    **whose: Any,
) -> HttpResponse:
    status = 200 if request.method != "POST" else refusal.status if refusal else 400
    if request.method == "POST" and by_script(request):
        return told(refusal.text if refusal else what_is_missing(form), status)
    context = {"form": form, "refusal": refusal, **context}
    return desk(request, template, "studio_today", context, status, **whose)


@login_required
@require_POST
def take_word_back(request: SignedInRequest, comment_id: uuid.UUID) -> HttpResponse:
    """Delete a word that was said aloud: one's own, or any of the studio's for those who decide."""
    spoken = access.spoken_within_sight(request.user, comment_id)
    horn = spoken.horn
    if not access.teaches(request.user, horn, STAFF if spoken.by_id == request.user.pk else DECIDERS):
        raise Http404
    comments.take_back(spoken)
    if horn.put_away_on is not None and spoken.about_try_id is not None:  # of such a horn the tones are left to see
        return redirect("one_tone", try_id=spoken.about_try_id)
    return redirect("student", horn_id=horn.pk)
