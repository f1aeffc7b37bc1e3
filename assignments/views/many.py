"""Setting the week, or a pause, for several students at once."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import Any

from django.contrib.auth.decorators import login_required
from django.http import HttpResponse
from django.shortcuts import redirect
from django.views.decorators.http import require_http_methods

from assignments import many, weeks
from assignments import routines as routine_rows
from assignments.exercises import MINUTES
from assignments.many_forms import AGAIN, OWN, PAUSE, THESE, ManyForm
from assignments.queries import many as many_query
from assignments.refusals import Refusal
from assignments.views.desk import desk
from studio.access import DECIDERS, staff_membership
from studio.models import Horn, Membership
from studio.signed_in import SignedInRequest

GIVEN = "given"  # in the session


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def many_weeks(request: SignedInRequest) -> HttpResponse:
    """``?from=`` a horn: begin with that student's week, to give it to others; ``?who=``: whom to tick."""
    staff = staff_membership(request.user, DECIDERS)
    horns = many_query.horns_here(staff)
    today = staff.studio.today()
    begin = _begin(next((horn for horn in horns if str(horn.pk) == request.GET.get("from", "")), None), today)
    form = ManyForm(request.POST or None, horns=horns, today=today, initial=begin)
    if request.method == "POST" and form.is_valid():
        try:
            given = _give(form, staff)
            request.session[GIVEN] = [(str(one.horn.pk), one.refused) for one in given]
            return redirect("many_weeks")
        except Refusal as refusal:
            form.add_error("routine", refusal.text)
    sent = request.POST.getlist("horns") if form.is_bound else _ticked(request, horns)
    starts_on = form.cleaned_data.get("starts_on") if form.is_bound else None
    page = many_query.page(staff, horns, starts_on=starts_on, chosen=sent, given=_given(request, horns))
    status = 400 if form.errors else 200
    return desk(request, "many.html", "studio_today", {"page": page, "form": form}, status, staff=staff)


def _ticked(request: SignedInRequest, horns: Sequence[Horn]) -> list[str] | None:
    """``?who=``: everybody or nobody to begin with; else (None) whose week is over."""
    everybody = [str(horn.pk) for horn in horns]
    return {"all": everybody, "none": []}.get(request.GET.get("who", ""))


def _given(request: SignedInRequest, horns: Sequence[Horn]) -> list[many.Given]:
    """What the last sending did, told once."""
    here = {str(horn.pk): horn for horn in horns}
    return [many.Given(here[key], refused) for key, refused in request.session.pop(GIVEN, ()) if key in here]


def _give(form: ManyForm, staff: Membership) -> list[many.Given]:
    sent, by, horns, first = form.cleaned_data, staff.user, form.chosen, form.first_day
    if sent["what"] == AGAIN:
        return many.again(horns, by=by, starts_on=first)
    if sent["what"] == PAUSE:
        return many.pause(horns, by=by, starts_on=sent["starts_on"], until_on=sent["until_on"], words=sent["reason"])
    routine = routine_rows.chosen(staff.studio, sent["routine"])
    fields = {name: sent[name] for name in ("budget_minutes", "beats_per_minute", "focus", "words")}
    return many.give(horns, by=by, routine=routine, starts_on=first, pins=form.picked, **fields)


def _begin(like: Horn | None, today: dt.date) -> dict[str, Any]:
    last = weeks.latest(like) if like else None
    if last is None:
        return {"starts_on": today, "budget_minutes": MINUTES[0], "picks": OWN}
    return {
        "starts_on": today,
        "routine": last.routine_id,
        "budget_minutes": last.budget_minutes,
        "beats_per_minute": last.beats_per_minute,
        "focus": last.focus,
        "words": last.words,
        "picks": THESE if last.pins else OWN,
        "pins": [f"{pin['written_midi']}-{pin['tone']}" for pin in last.pins],
    }
