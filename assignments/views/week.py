"""Setting a student's week."""

from __future__ import annotations

import datetime as dt
import uuid
from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpResponse
from django.shortcuts import redirect
from django.template.defaultfilters import date as date_words
from django.urls import reverse
from django.utils.html import format_html
from django.utils.safestring import SafeString
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from assignments import routines as routine_rows
from assignments import weeks
from assignments.exercises import MINUTES
from assignments.forms import WeekForm, pairs
from assignments.queries import many as many_query
from assignments.queries import week as week_query
from assignments.refusals import Refusal
from assignments.views.desk import desk
from studio.access import DECIDERS, horn_for_staff, memberships
from studio.models import Horn
from studio.signed_in import SignedInRequest


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def week(request: SignedInRequest, horn_id: uuid.UUID) -> HttpResponse:
    """Set a student's week. A shut block is refused here, whatever the page offered."""
    horn = horn_for_staff(request.user, horn_id, DECIDERS)
    if request.method == "POST":
        return _set(request, horn)
    last = weeks.latest(horn)
    begin = week_query.begin_with(horn, last, _uuid(request.GET.get("routine")))
    begin["pins"] += [pin for pin in request.GET.getlist("pin") if pairs([pin]) and pin not in begin["pins"]]
    form = WeekForm(initial=begin, written_range=horn.written_range)
    return _week_page(request, horn, form, begin)


def _set(request: SignedInRequest, horn: Horn) -> HttpResponse:
    form = WeekForm(request.POST, written_range=horn.written_range)
    refused, status = "", 400
    if form.is_valid():
        try:
            sent = form.cleaned_data
            weeks.set_week(
                horn=horn,
                by=request.user,
                routine=routine_rows.chosen(horn.studio, sent["routine"]),
                starts_on=sent["starts_on"],
                ends_on=sent["ends_on"],
                budget_minutes=sent["budget_minutes"],
                beats_per_minute=sent["beats_per_minute"],
                focus=sent["focus"],
                words=sent["words"],
                block_kinds=sent["blocks"],
                pins=form.picked(),
                excluded_written_midi=sent["left_out"],
            )
            messages.success(request, _told(request, horn, sent["ends_on"]))
            return redirect("student", horn_id=horn.pk)
        except Refusal as refusal:
            refused, status = refusal.text, refusal.status
    return _week_page(request, horn, form, _as_sent(request), refused, status)


def _told(request: SignedInRequest, horn: Horn, until_on: dt.date) -> SafeString:
    """That it was set, and the way on to whoever still wants one."""
    words = _("%(name)s has this week, until %(day)s.") % {
        "name": horn.player.user.get_short_name(),
        "day": date_words(until_on, "l j F"),
    }
    after = many_query.next_without(memberships(request.user, DECIDERS).filter(studio=horn.studio)[0], horn)
    if after is None:
        return format_html("{}", words)
    on = _("Next: %(name)s’s week") % {"name": after.player.user.get_short_name()}
    return format_html('{} <a href="{}">{}</a>', words, reverse("week", args=[after.pk]), on)


def _week_page(
    request: SignedInRequest, horn: Horn, form: WeekForm, begin: dict[str, Any], refused: str = "", status: int = 200
) -> HttpResponse:
    chosen = week_query.Chosen(
        routine=begin["routine"],
        blocks=begin["blocks"],
        budget_minutes=begin["budget_minutes"],
        pins=pairs(begin["pins"]),
        left_out=begin["left_out"],
    )
    page = week_query.page(horn, chosen, weeks.latest(horn))
    context = {"page": page, "form": form, "refused": refused}
    return desk(request, "week.html", "studio_today", context, status, studio=horn.studio)


def _as_sent(request: SignedInRequest) -> dict[str, Any]:
    """What came in, as far as it can be shown again."""
    minutes = request.POST.get("budget_minutes", "")
    return {
        "routine": _uuid(request.POST.get("routine")),
        "blocks": request.POST.getlist("blocks"),
        "budget_minutes": int(minutes) if minutes in {str(known) for known in MINUTES} else MINUTES[0],
        "pins": request.POST.getlist("pins"),
        "left_out": [int(midi) for midi in request.POST.getlist("left_out") if midi.isdecimal()],
    }


def _uuid(text: str | None) -> uuid.UUID | None:
    try:
        return uuid.UUID(text or "")
    except ValueError:
        return None
