"""At home: a guardian's pages about one child, and those of a student who is of age. What is kept, and who decides."""

from __future__ import annotations

import datetime as dt
import uuid
from typing import Any

from django.conf import settings
from django.contrib.auth.decorators import login_required
from django.core.signing import BadSignature
from django.db.models import QuerySet
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import get_language
from django.views.decorators.csrf import csrf_exempt
from django.views.decorators.http import require_http_methods, require_safe

from assignments import comments, milestones, permission, reminder_devices, reminder_letters, reminders
from assignments.home_forms import PermissionForm, ReminderForm
from assignments.models import Reminder
from assignments.queries import at_home as at_home_query
from assignments.queries import home_words
from assignments.queries import kept as kept_query
from assignments.student_forms import NoteForm
from studio import consent
from studio.access import Role, memberships, of_family, wards
from studio.models import Consent, Membership
from studio.signed_in import SignedInRequest

PAGES = "assignments/at_home/"


@login_required
@require_safe
def at_home(request: SignedInRequest) -> HttpResponse:
    """Where a guardian begins: the child's month; the permission, while none was given."""
    ward = _everybody(request).first()
    if ward is None:
        raise Http404
    return redirect("home_month" if ward.consents.exists() else "home_permission", membership_id=ward.pk)


@login_required
@require_safe
def month(request: SignedInRequest, membership_id: uuid.UUID) -> HttpResponse:
    ward = of_family(request.user, membership_id)
    page = at_home_query.month(ward, asked_month(request.GET.get("month", "")))
    return _page(request, ward, "month.html", "month", {"page": page})


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def messages(request: SignedInRequest, membership_id: uuid.UUID) -> HttpResponse:
    """Everything that was said, both ways. POST: a word to the teacher."""
    ward = of_family(request.user, membership_id)
    horn = ward.horns.order_by("put_away_on", "in_use_since_on", "pk").first()
    form = NoteForm(request.POST or None)
    if request.method == "POST" and horn is not None and form.is_valid():
        comments.note(horn, by=request.user, text=form.cleaned_data["text"])
        return redirect("home_messages", membership_id=ward.pk)
    context = {"lines": home_words.lines(ward), "form": form, "horn": horn}
    return _page(request, ward, "messages.html", "messages", context)


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def home_permission(request: SignedInRequest, membership_id: uuid.UUID) -> HttpResponse:
    """Give permission to record, or take it back: ``what`` says which."""
    ward = of_family(request.user, membership_id)
    what = request.POST.get("what", "")
    form = PermissionForm(request.POST if what == "give" else None, initial={"given_by": request.user.name})
    if what == "take_back":
        permission.take_back(student=ward, by=request.user)
        return redirect("home_permission", membership_id=ward.pk)
    if what == "give" and form.is_valid():
        given_by = form.cleaned_data["given_by"]
        consent.give(student=ward, given_by=given_by, how=Consent.How.SCREEN, logged_by=request.user)
        return redirect("home_permission", membership_id=ward.pk)
    given = list(ward.consents.order_by("-given_at"))
    standing = next((one for one in given if one.wording == consent.WORDING and not one.withdrawn_at), None)
    studio = ward.studio
    if standing is not None:
        studio.keep_takes_days = consent.keep_days(ward)  # the text is shown as it was agreed to
    context = {"form": form, "given": given, "standing": standing, "studio": studio, "wording": consent.WORDING}
    return _page(request, ward, "permission.html", "permission", context)


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def home_reminder(request: SignedInRequest, membership_id: uuid.UUID) -> HttpResponse:
    """A note at a chosen time, or none: ``what`` is "stop" to end it."""
    ward = of_family(request.user, membership_id)
    if request.POST.get("what") == "stop":
        reminders.stop(ward)
        return redirect("home_reminder", membership_id=ward.pk)
    chosen = Reminder.objects.filter(player=ward).first()
    begin = {name: getattr(chosen, name) for name in ("at", "time_zone", "email", "way")} if chosen else {}
    form = ReminderForm(request.POST or None, initial={"time_zone": ward.studio.time_zone, **begin})
    if request.method == "POST" and form.is_valid():
        saved = reminders.choose(ward, by=request.user, language=get_language() or "en", **form.cleaned_data)
        to_device = saved.way == Reminder.Way.DEVICE and not reminder_devices.living(saved)
        return redirect("device_reminder" if to_device else "home_reminder", membership_id=ward.pk)
    context = {
        "form": form,
        "chosen": chosen,
        "silent": chosen is not None and reminders.is_silent(chosen),
        "is_sent": bool(settings.MAIL),
        "on_devices": chosen is not None and settings.PUSH and chosen.way == Reminder.Way.DEVICE,
        "go_there": chosen is not None and reminder_devices.go_there(chosen),
    }
    return _page(request, ward, "reminder.html", "reminder", context)


@require_http_methods(["GET", "HEAD", "POST"])
def reminder_confirm(request: HttpRequest, key: str) -> HttpResponse:
    """Where the letter that asks leads, signed in or not. Looking changes nothing: mail programs look first."""
    chosen = _of_letter(key)
    done = chosen is not None and chosen.confirmed_at is not None
    if request.method == "POST" and chosen is not None:
        reminders.confirm(chosen)
        done = True
    return _unsigned(request, "confirm_reminder.html", {"chosen": chosen, "done": done})


@csrf_exempt  # the key in the address is the right to it; mail programs send nothing else
@require_http_methods(["GET", "HEAD", "POST"])
def reminder_stop(request: HttpRequest, key: str) -> HttpResponse:
    """Where the link in a note leads, signed in or not. Looking changes nothing: mail programs look first."""
    chosen = _of_letter(key)
    if request.method == "POST" and chosen is not None:
        reminders.stop(chosen.player)
        chosen = None
    return _unsigned(request, "stop_reminder.html", {"chosen": chosen})


def _of_letter(key: str) -> Reminder | None:
    try:
        return reminder_letters.of_key(key)
    except BadSignature as wrong:
        raise Http404 from wrong


def _unsigned(request: HttpRequest, template: str, context: dict[str, Any]) -> HttpResponse:
    """A page whose address is a key: it is neither kept nor told to where its links lead."""
    answer = render(request, PAGES + template, context)
    answer["Cache-Control"], answer["Referrer-Policy"] = "private, no-store", "no-referrer"
    return answer


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def kept(request: SignedInRequest, membership_id: uuid.UUID) -> HttpResponse:
    """What is kept, to hear, to copy, to delete; and who did what with it. POST lets a ``milestone`` go by age."""
    ward = of_family(request.user, membership_id)
    if request.method == "POST":
        milestones.let_go_of(ward, request.POST.get("milestone", ""))
        return redirect("home_kept", membership_id=ward.pk)
    return _page(request, ward, "kept.html", "kept", {"page": kept_query.page(ward)})


def _page(
    request: SignedInRequest, ward: Membership, template: str, here: str, context: dict[str, Any]
) -> HttpResponse:
    others = [one for one in _everybody(request) if one.pk != ward.pk]
    form = context.get("form")
    status = 400 if form is not None and form.errors else 200
    shared = {"ward": ward, "others": others, "here": here, "is_own": ward.user_id == request.user.pk}
    return render(request, PAGES + template, {**shared, **context}, status=status)


def _everybody(request: SignedInRequest) -> QuerySet[Membership]:
    """The wards; somebody of age without any looks after themselves."""
    found = wards(request.user)
    return found if found.exists() else memberships(request.user, (Role.STUDENT,)).filter(of_age=True)


def asked_month(text: str) -> dt.date | None:
    """``2026-03``; anything else is this month."""
    try:
        return dt.date.fromisoformat(f"{text}-01")
    except ValueError:
        return None
