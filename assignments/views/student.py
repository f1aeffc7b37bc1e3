"""A student's pages: what to play, what came of it, which notes stand, what the teacher said."""

from __future__ import annotations

import uuid

from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.csrf import ensure_csrf_cookie
from django.views.decorators.http import require_http_methods, require_safe

from assignments import access, comments
from assignments.queries import after as after_query
from assignments.queries import evenness as evenness_query
from assignments.queries import high_notes as high_notes_query
from assignments.queries import lesson as lesson_query
from assignments.queries import one_tone as one_tone_query
from assignments.queries import overtones as overtones_query
from assignments.queries import range as range_query
from assignments.queries import today as today_query
from assignments.student_forms import NoteForm
from assignments.views.desk import around
from assignments.views.horns import PAGES, base_for, own_horn
from studio import second_step
from studio.access import DECIDERS, STAFF, belongs_somewhere, memberships, wards
from studio.signed_in import SignedInRequest


@login_required
@require_safe
def home(request: SignedInRequest) -> HttpResponse:
    """Whoever teaches starts in the studio, or where it is opened; a guardian at home, whoever plays with today; and
    whoever left is told so."""
    if memberships(request.user, STAFF).exists():
        return redirect("studio_today")
    if second_step.is_owed(request.user):  # also of whoever has a child here: else the studio would just be missing
        return redirect("second_step")
    if not belongs_somewhere(request.user):
        return render(request, "studio/nowhere.html")
    return redirect("at_home" if wards(request.user).exists() else "today")


@login_required
@require_safe
@ensure_csrf_cookie
def today(request: SignedInRequest) -> HttpResponse:
    horn = own_horn(request)
    page = today_query.page(horn, horn.studio.today())
    return render(request, PAGES + "today.html", {"page": page, "here": "today"})


@login_required
@require_safe
@ensure_csrf_cookie
def after(request: SignedInRequest) -> HttpResponse:
    horn = own_horn(request)
    page = after_query.page(horn, horn.studio.today())
    return render(request, PAGES + "after.html", {"page": page, "here": "today"})


@login_required
@require_safe
def whole_range(request: SignedInRequest) -> HttpResponse:
    horn = own_horn(request)
    page = range_query.page(horn, horn.studio.today())
    return render(request, PAGES + "range.html", {"page": page, "here": "range"})


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def one_tone(request: SignedInRequest, try_id: uuid.UUID) -> HttpResponse:
    """One tone with its sound and its past. POST: how it felt, told to the teacher; only the player's own word."""
    played = access.try_within_sight(request.user, try_id)
    form = NoteForm(request.POST or None)
    is_own = played.horn.player.user_id == request.user.pk
    if request.method == "POST" and not is_own:
        raise Http404
    if request.method == "POST" and form.is_valid():
        comments.note(played.horn, by=request.user, text=form.cleaned_data["text"], about=played)
        return redirect("one_tone", try_id=try_id)
    teacher = request.user if not is_own and access.teaches(request.user, played.horn) else None
    page = one_tone_query.page(played, teacher=teacher)
    decides = teacher is not None and access.teaches(teacher, played.horn, DECIDERS)
    context = {
        **(around(request, "studio_today", studio=played.horn.studio) if teacher else {"here": "range"}),
        "base": base_for(is_own=is_own, at_desk=teacher is not None),
        "page": page,
        "form": form,
        "is_own": is_own,
        "may_decide": decides and played.horn.put_away_on is None,
        "may_take_back": decides,
        "is_teacher": teacher is not None,
    }
    return render(request, PAGES + "one_tone.html", context)


@login_required
@require_safe
def overtones(request: SignedInRequest) -> HttpResponse:
    page = overtones_query.page(own_horn(request))
    return render(request, PAGES + "overtones.html", {"page": page, "here": "high_notes"})


@login_required
@require_safe
def evenness(request: SignedInRequest) -> HttpResponse:
    page = evenness_query.page(own_horn(request))
    return render(request, PAGES + "evenness.html", {"page": page, "here": "range"})


@login_required
@require_safe
def high_notes(request: SignedInRequest) -> HttpResponse:
    horn = own_horn(request)
    page = high_notes_query.page(horn, horn.studio.today())
    return render(request, PAGES + "high_notes.html", {"page": page, "here": "high_notes"})


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def lesson(request: SignedInRequest) -> HttpResponse:
    """What the teacher said. POST: a word back, or that what was said has been read."""
    horn = own_horn(request)
    if request.method == "POST" and "read" in request.POST:
        comments.read(horn, by=request.user)
        return redirect("lesson")
    form = NoteForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        comments.note(horn, by=request.user, text=form.cleaned_data["text"])
        return redirect("lesson")
    page = lesson_query.page(horn, horn.studio.today())
    return render(request, PAGES + "lesson.html", {"page": page, "form": form, "here": "lesson"})
