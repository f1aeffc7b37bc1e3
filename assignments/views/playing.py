"""Set up, play, send a file, and see where a recording is on its way."""

from __future__ import annotations

import uuid
from typing import Any

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.csrf import csrf_exempt, ensure_csrf_cookie
from django.views.decorators.http import require_http_methods, require_safe

from assignments import access, plans, portions, takes
from assignments.exercises import MOVED
from assignments.models import DayPlan, Exercise
from assignments.queries import parts, playing
from assignments.queries import where as where_query
from assignments.refusals import Refusal
from assignments.student_forms import TakeFileForm
from assignments.views.desk import around
from assignments.views.horns import PAGES, base_for, own_horn
from studio.access import DECIDERS
from studio.signed_in import SignedInRequest


@login_required
@require_safe
@ensure_csrf_cookie
def set_up(request: SignedInRequest) -> HttpResponse:
    return _play_the_day(request, begin_with="set_up")


@login_required
@require_safe
@ensure_csrf_cookie
def play(request: SignedInRequest) -> HttpResponse:
    return _play_the_day(request, begin_with="play")


def _play_the_day(request: SignedInRequest, begin_with: str) -> HttpResponse:
    horn = own_horn(request)
    plan = plans.plan_for(horn, horn.studio.today())
    if plan is None or plan.on in plans.hurt_days(horn, plan.on):
        return redirect("today")  # which says why there is nothing to play
    page = playing.of_day(horn, plan, _slots(request))
    return _playing(request, page, begin_with, plan.week.exercises.get(kind="daily_tones"))


@login_required
@require_safe
@ensure_csrf_cookie
def exercise(request: SignedInRequest, exercise_id: uuid.UUID) -> HttpResponse:
    """What a run or extension work asks for. Shut work says why it is shut."""
    found = access.exercise_of_player(request.user, exercise_id)
    if found.kind == "daily_tones":
        return redirect("today")
    horn = found.week.horn
    page = playing.of_exercise(horn, found, plans.plan_for(horn, horn.studio.today()))
    if request.GET.get("play"):
        return _playing(request, page, "set_up", found)
    refusal = _refusal(found)
    part = parts.view(found.part) if found.part else None
    context = {
        "page": page,
        "part": part,
        "refusal": refusal,
        "takes": where_query.latest(found),
        "low_notes_first": portions.low_notes_first(horn, found, horn.studio.today()),
        "here": "today",
    }
    return render(request, PAGES + "exercise.html", context, status=refusal.status if refusal else 200)


def _playing(request: SignedInRequest, page: playing.PlayingPage, begin_with: str, of: Exercise) -> HttpResponse:
    refusal = _refusal(of)
    if refusal:
        return _refused(request, refusal)
    work = page.work(begin_with, _spot(request))
    return render(request, PAGES + "play.html", {"page": page, "work": work, "here": "today"})


def _refused(request: SignedInRequest, refusal: Refusal) -> HttpResponse:
    answer = render(request, PAGES + "refused.html", {"refusal": refusal, "here": "today"}, status=refusal.status)
    answer.headers["Footing-Refusal"] = refusal.code  # a page that stands open asks for it: allowed.js
    return answer


def _spot(request: SignedInRequest) -> str:
    return MOVED if request.GET.get("spot") == MOVED else ""


def _refusal(of: Exercise) -> Refusal | None:
    """What stands against playing this today, in words."""
    try:
        portions.may_begin(of.week.horn, of, of.week.horn.studio.today())
    except Refusal as refusal:
        return refusal
    return None


def _slots(request: SignedInRequest) -> tuple[int, ...]:
    """``?slots=3,7``: these tones alone. What isn't a number is passed over."""
    return tuple(int(text) for text in request.GET.get("slots", "").split(",") if text.strip().isdecimal())[:240]


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
@ensure_csrf_cookie
def day_files(request: SignedInRequest) -> HttpResponse:
    """Recordings of the day's tones that were made elsewhere: the page that opens without network."""
    horn = own_horn(request)
    plan = plans.plan_for(horn, horn.studio.today())
    if plan is None:
        return redirect("today")  # which says why there is nothing to play
    return _files(request, plan.week.exercises.get(kind="daily_tones"), plan)


@csrf_exempt  # the phone's own recorder knows no token; nothing is taken in here
@require_http_methods(["GET", "HEAD", "POST"])
def shared_files(request: HttpRequest) -> HttpResponse:
    """Where a phone's recorder shares to. The service worker takes the files; without it they stay in the recorder.

    A browser that opens the address again, as its way back does, shares nothing.
    """
    return redirect(reverse("day_files") + "?again" if request.method == "POST" else "today")


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
@ensure_csrf_cookie
def take_file(request: SignedInRequest, exercise_id: uuid.UUID) -> HttpResponse:
    """Recordings of one exercise that were made elsewhere."""
    found = access.exercise_of_player(request.user, exercise_id)
    horn = found.week.horn
    plan = plans.plan_for(horn, horn.studio.today())
    if found.kind == "daily_tones" and (plan is None or plan.week_id != found.week_id):
        return redirect("today")
    return _files(request, found, plan)


def _files(request: SignedInRequest, of: Exercise, plan: DayPlan | None) -> HttpResponse:
    """Send a recording. Works without scripts; sent twice it stays one take."""
    horn = of.week.horn
    if plan is not None and of.kind == "daily_tones":
        page = playing.of_day(horn, plan, _slots(request))
    else:
        page = playing.of_exercise(horn, of, plan)
    form = TakeFileForm(request.POST or None, request.FILES or None, panels=page.panels, initial=_first_choice(page))
    refusal = _refusal(of)
    if refusal and request.method != "POST":
        return _refused(request, refusal)
    if request.method == "POST" and form.is_valid():
        try:
            return redirect(_submit(of, plan, form.cleaned_data))
        except Refusal as trouble:
            refusal = trouble
    status = refusal.status if refusal else 400 if form.errors else 200
    ticked = {int(slot) for slot in form["slots"].value() or () if str(slot).isdecimal()}
    context = {"page": page, "work": page.work("files"), "form": form, "slots_ticked": ticked, "refusal": refusal}
    return render(request, PAGES + "take_file.html", context | {"here": "today"}, status=status)


def _first_choice(page: playing.PlayingPage) -> dict[str, Any]:
    """Every tone that was not played yet."""
    return {"client_key": uuid.uuid4(), "slots": [one.slot for one in page.panels if one.slot not in page.done]}


def _submit(of: Exercise, plan: Any, sent: dict[str, Any]) -> Any:
    on, slots = plans.asked_for(of, plan, sent["slots"])
    horn, key, audio = of.week.horn, sent["client_key"], sent["audio"]
    about = {"spot": MOVED} if sent.get("moved") else {}
    return takes.submit(horn=horn, exercise=of, on=on, slots=slots, client_key=key, audio=audio, recorder=about)[0]


@login_required
@require_safe
def take(request: SignedInRequest, take_id: uuid.UUID) -> HttpResponse:
    """Where one recording is: received, waiting, measuring; then what was heard in it."""
    found = access.take_within_sight(request.user, take_id)
    is_teacher = access.teaches(request.user, found.horn)
    page = where_query.page(found, of_staff=is_teacher)
    is_own = page.horn.player.user_id == request.user.pk
    at_desk = is_teacher and not is_own
    may_keep = bool(found.analysis.audio) and access.teaches(request.user, found.horn, DECIDERS)
    context = {
        **(around(request, "studio_today", studio=found.horn.studio) if at_desk else {"here": "today"}),
        "base": base_for(is_own=is_own, at_desk=at_desk),
        "page": page,
        "may_keep": may_keep,
        "at_desk": at_desk,
    }
    return render(request, PAGES + "take.html", context)
