"""The second step: set up, asked for after the passphrase, turned off."""

from __future__ import annotations

import time
from typing import Any

from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from studio import access, codes, qr, sessions
from studio import second_step as steps
from studio.door_forms import SecondStepForm, SetUpForm
from studio.models import SecondStep, User
from studio.signed_in import SignedInRequest

SEED, WAITING, ANEW = "second_step_seed", "waits_for_code", "second_step_anew_s"  # keys of the session
PHONE_LOST = "second_step_phone_lost"  # another: they came in with a recovery code
WAITS_S = 600  # so long the page of the second step stands open, and each of those that a code has opened


def enter(request: HttpRequest, user: User, to: str) -> HttpResponse:
    """In and on to ``to``; with a second step the sign-in begins only after it."""
    if not steps.is_on(user):
        sessions.begin(request, user)
        return redirect(to)
    request.session[WAITING] = {
        "user": str(user.pk),
        "passphrase": user.get_session_auth_hash(),
        "at_s": int(time.time()),
        "to": to,
    }
    return redirect("sign_in_code")


@require_http_methods(["GET", "HEAD", "POST"])
def sign_in_code(request: HttpRequest) -> HttpResponse:
    """The digits on the phone, or a recovery code, of whoever gave the passphrase a moment ago."""
    waiting = request.session.get(WAITING, {})
    user = _waits(waiting)
    if user is None:
        return redirect("sign-in")
    form = SecondStepForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        opened = steps.opens(user, form.cleaned_data["code"])
        if opened:
            del request.session[WAITING]
            sessions.begin(request, user)
            return _in(request, waiting["to"], opened)
        form.add_error("code", _not_it(form.cleaned_data["code"]))
    wait_s = steps.wait_s(user)
    answer = render(
        request,
        "studio/sign_in_code.html",
        {"form": form, "wait_minutes": -(-wait_s // 60)},
        status=429 if wait_s else 400 if form.errors else 200,
    )
    if wait_s:
        answer["Retry-After"] = str(wait_s)
    return answer


def _in(request: HttpRequest, to: str, opened: str) -> HttpResponse:
    """To where they were going; whoever may have lost the phone first to where another one is set up."""
    if opened == steps.BY_DIGITS:
        return redirect(to)
    request.session[PHONE_LOST] = {"at_s": int(time.time()), "to": to}
    return redirect("second_step")


def _not_it(typed: str) -> str:
    if codes.read(typed):
        return _("This recovery code opens nothing. Each is good once, and new ones end the old: take another one.")
    return _("That isn’t it. A code is good for half a minute, and once.")


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def second_step(request: SignedInRequest) -> HttpResponse:
    """Set it up; once it is on, print other recovery codes, take another phone or turn it off. Each takes a code.

    The recovery code with which somebody came in a moment ago does for one of them: it may have been their last.
    """
    if not steps.is_for(request.user):
        raise Http404
    row = SecondStep.objects.filter(user=request.user).first()
    is_anew = time.time() - request.session.get(ANEW, 0) < WAITS_S
    return _change(request, row) if row and not is_anew else _set_up(request)


def _set_up(request: SignedInRequest) -> HttpResponse:
    seed = request.session.setdefault(SEED, steps.new_seed())
    form = SetUpForm(request.POST or None, user=request.user)
    if request.method == "POST" and form.is_valid():
        made = steps.turn_on(request.user, seed, form.cleaned_data["code"])
        if made is not None:
            del request.session[SEED]
            request.session.pop(ANEW, None)
            sessions.end_others(request.user, here=request.session.session_key)
            return _codes(request, made)
        form.add_error("code", _("These aren’t the digits of now. If the phone’s clock is right, type the next ones."))
    address = steps.address(request.user, seed)
    context = {
        "form": form,
        "qr": qr.drawn(address),
        "address": address,
        "secret": steps.typed_secret(seed),
        "is_owed": steps.is_owed(request.user),
        "open_without": _open_without(request.user),
    }
    return render(request, "studio/second_step_set_up.html", context, status=400 if form.errors else 200)


def _change(request: SignedInRequest, row: SecondStep) -> HttpResponse:
    is_asked_for = access.must_have_second_step(request.user)
    what = request.POST.get("what")
    if request.method == "POST" and what not in ("codes", "anew", "off"):
        return redirect("second_step")  # set up in another tab meanwhile: the page says that it is on
    lost = _came_without_phone(request)
    form = SecondStepForm(request.POST or None, asks=not lost)
    if what == "off" and is_asked_for:  # before the code is looked at: that would use it up
        form.add_error(None if lost else "code", _("Your studio asks for the second step, so it stays on."))
    elif request.method == "POST" and form.is_valid():
        if lost or steps.opens(request.user, form.cleaned_data["code"]):
            request.session.pop(PHONE_LOST, None)
            return _changed(request, str(what))
        form.add_error("code", _not_it(form.cleaned_data["code"]))
    context = {
        "form": form,
        "row": row,
        "codes_left": row.recovery_codes.count(),
        "is_asked_for": is_asked_for,
        "wait_minutes": 0 if lost else -(-steps.wait_s(request.user) // 60),
        "came_for": lost.get("to"),
    }
    return render(request, "studio/second_step.html", context, status=400 if form.errors else 200)


def _changed(request: SignedInRequest, what: str) -> HttpResponse:
    if what == "codes":
        return _codes(request, steps.new_codes(request.user))
    if what == "anew":
        request.session[ANEW] = int(time.time())
        return redirect("second_step")
    steps.turn_off(request.user, by=request.user)
    return redirect("my_doors")


def _came_without_phone(request: SignedInRequest) -> dict[str, Any]:
    """Where somebody was going who came in with a recovery code a moment ago; else nothing."""
    came: dict[str, Any] = request.session.get(PHONE_LOST, {})
    return came if time.time() - came.get("at_s", 0) < WAITS_S else {}


def _open_without(user: User) -> str:
    """Where a guardian or a student who also teaches goes on meanwhile; empty for whoever only teaches."""
    if access.wards(user).exists():
        return "at_home"
    return "today" if access.memberships(user, (access.Role.STUDENT,)).exists() else ""


def _codes(request: SignedInRequest, made: list[str]) -> HttpResponse:
    """The paper for the day on which the phone is lost, shown this once."""
    return render(request, "studio/recovery_codes.html", {"codes": made})


def _waits(waiting: dict[str, Any]) -> User | None:
    """Who stands between passphrase and second step; nobody when that was too long ago, or the passphrase changed."""
    if time.time() - waiting.get("at_s", 0) > WAITS_S:
        return None
    user = User.objects.filter(pk=waiting["user"], is_active=True).first()
    return user if user and user.get_session_auth_hash() == waiting["passphrase"] else None
