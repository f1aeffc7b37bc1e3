"""Where somebody is signed in, and the passphrase: to look at, to change, to end."""

from __future__ import annotations

from django.contrib.auth import update_session_auth_hash
from django.contrib.auth.decorators import login_required
from django.db.models import QuerySet
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from studio import second_step, sessions
from studio.access import DECIDERS, Role, memberships
from studio.door_forms import PassphraseForm
from studio.models import SecondStep, Session, User
from studio.signed_in import SignedInRequest


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def my_doors(request: SignedInRequest) -> HttpResponse:
    """POST: ``end`` with the number of a sign-in, ``end_others``, or a new passphrase, which ends the others too."""
    here = request.session.session_key
    what = request.POST.get("what", "")
    form = PassphraseForm(request.POST if what == "passphrase" else None, user=request.user)
    if what in ("end", "end_others"):
        place = request.POST.get("place") if what == "end" else None
        sessions.end_others(request.user, here=here, place=place)
        return redirect("my_doors")
    if what == "passphrase" and form.is_valid():
        request.user.set_password(form.cleaned_data["new"])
        request.user.save(update_fields=["password"])
        sessions.end_others(request.user, here=here)
        update_session_auth_hash(request, request.user)
        return redirect("my_doors")
    context = {
        "form": form,
        "may_share": memberships(request.user, (*DECIDERS, Role.GUARDIAN)).exists(),
        "open_here": sessions.place_of(here),
        "second_step": SecondStep.objects.filter(user=request.user).first(),
        "may_have_second_step": second_step.is_for(request.user),
        "sessions": [(sessions.place_of(row.session_key), row) for row in _open(request)],
        "zone": _zone(request.user),
    }
    return render(request, "studio/my_doors.html", context, status=400 if form.errors else 200)


def _open(request: SignedInRequest) -> QuerySet[Session]:
    return Session.objects.filter(user=request.user, expire_date__gt=timezone.now()).order_by("-seen_at")


def _zone(user: User) -> str:
    """The time zone of the studio they came to last, if they are in one."""
    member = memberships(user, tuple(Role.values)).order_by("joined_on").last()
    return member.studio.time_zone if member else "UTC"
