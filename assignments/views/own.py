"""What a student settles for themselves: stopping when it hurts, and how the pages look."""

from __future__ import annotations

import uuid

from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.csrf import ensure_csrf_cookie
from django.views.decorators.http import require_http_methods, require_POST

from assignments import access, plans, reminder_devices
from assignments.models import DayPlan
from assignments.queries import day
from assignments.student_forms import HurtsForm, MineForm
from assignments.views.horns import IN_HAND, PAGES, own_horn
from studio import devices as shared_devices
from studio import languages
from studio.models import Horn
from studio.signed_in import SignedInRequest


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def hurts(request: SignedInRequest) -> HttpResponse:
    """Stop for today. POST stops; ``tell`` among it says whether the teacher may know, which is the family's choice."""
    horn = own_horn(request)
    if request.method == "POST":
        form = HurtsForm(request.POST)
        plan = _stopped(request, horn, form)
        if plan is not None:
            tell = form.cleaned_data["tell"]
            may_know = tell == "yes" if tell else plan.horn.player.tell_teacher_of_pain
            plans.stop_because_it_hurts(plan, teacher_may_know=may_know)
        return redirect("hurts")
    today = horn.studio.today()
    plan, often = day.plan_of(horn, today), len(plans.hurt_days(horn, today)) >= plans.HURTS_HALVE
    context = {"horn": horn, "plan": plan, "often": often}
    return render(request, PAGES + "hurts.html", context)


def _stopped(request: SignedInRequest, horn: Horn, form: HurtsForm) -> DayPlan | None:
    """The day that ends: the one that was played, if the phone says so, else today."""
    if not form.is_valid():
        raise Http404
    if form.cleaned_data["plan"]:
        return access.plan_of_player(request.user, form.cleaned_data["plan"])
    return plans.plan_for(horn, horn.studio.today())


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
@ensure_csrf_cookie
def mine(request: SignedInRequest) -> HttpResponse:
    """Light, type size, language, horn in hand; what this phone holds is shown by its script."""
    horn = own_horn(request)
    horns = [(str(row.pk), row.get_kind_display()) for row in access.horns_of_player(request.user)]
    form = MineForm(request.POST or None, horns=horns, initial=_now(request, horn))
    if request.method == "POST" and form.is_valid():
        chosen = form.cleaned_data
        request.user.light = chosen["light"]
        request.user.save(update_fields=["light"])
        request.session["type_size"] = chosen["type_size"]
        request.session[IN_HAND] = chosen.get("horn") or str(horn.pk)
        answer = redirect("mine")
        languages.choose(request.user, answer, language=chosen["language"], note_names=chosen["note_names"])
        return answer
    reminder = reminder_devices.on_offer(horn.player) if shared_devices.of_request(request) is None else None
    return render(request, PAGES + "mine.html", {"horn": horn, "form": form, "reminder": reminder})


@login_required
@require_POST
def take_up(request: SignedInRequest, horn_id: uuid.UUID) -> HttpResponse:
    """Another horn of one's own in hand: from here on the pages are about it."""
    request.session[IN_HAND] = str(access.horn_of_player(request.user, horn_id).pk)
    return redirect("today")


def _now(request: SignedInRequest, horn: Horn) -> dict[str, str]:
    """What holds, by field."""
    user = request.user
    of_person = {"light": user.light, "language": user.language, "note_names": user.note_names}
    return {**of_person, "type_size": request.session.get("type_size", ""), "horn": str(horn.pk)}
