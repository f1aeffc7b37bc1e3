"""The second step: set up, asked for after the passphrase, turned off."""

from __future__ import annotations

import time
from typing import Any

from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from studio import access, qr, sessions
from studio import second_step as steps
from studio.door_forms import SecondStepForm, SetUpForm
from studio.models import SecondStep, User
from studio.signed_in import SignedInRequest

SEED, WAITING = "second_step_seed", "waits_for_code"  # keys of the session
WAITS_S = 600  # so long the page of the second step stands open


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
        if steps.opens(user, form.cleaned_data["code"]):
            del request.session[WAITING]
            sessions.begin(request, user)
            return redirect(waiting["to"])
        form.add_error("code", _("That isn’t it. A code is good for half a minute, and once."))
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


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def second_step(request: SignedInRequest) -> HttpResponse:
    """Set it up; once it is on, print other recovery codes or turn it off. Each takes a code of now."""
    if not steps.is_for(request.user):
        raise Http404
    row = SecondStep.objects.filter(user=request.user).first()
    return _change(request, row) if row else _set_up(request)


def _set_up(request: SignedInRequest) -> HttpResponse:
    seed = request.session.setdefault(SEED, steps.new_seed())
    form = SetUpForm(request.POST or None, user=request.user)
    if request.method == "POST" and form.is_valid():
        codes = steps.turn_on(request.user, seed, form.cleaned_data["code"])
        if codes is not None:
            del request.session[SEED]
            sessions.end_others(request.user, here=request.session.session_key)
            return _codes(request, codes)
        form.add_error("code", _("These aren’t the digits of now. If the phone’s clock is right, type the next ones."))
    address = steps.address(request.user, seed)
    context = {
        "form": form,
        "qr": qr.drawn(address),
        "address": address,
        "secret": steps.typed_secret(seed),
        "is_owed": steps.is_owed(request.user),
    }
    return render(request, "studio/second_step_set_up.html", context, status=400 if form.errors else 200)


def _change(request: SignedInRequest, row: SecondStep) -> HttpResponse:
    is_asked_for = access.must_have_second_step(request.user)
    what = request.POST.get("what")
    if request.method == "POST" and what not in ("codes", "off"):
        return redirect("second_step")  # set up in another tab meanwhile: the page says that it is on
    form = SecondStepForm(request.POST or None)
    if what == "off" and is_asked_for:  # before the code is looked at: that would use it up
        form.add_error("code", _("Your studio asks for the second step, so it stays on."))
    elif request.method == "POST" and form.is_valid():
        if not steps.opens(request.user, form.cleaned_data["code"]):
            form.add_error("code", _("That isn’t it. A code is good for half a minute, and once."))
        elif what == "codes":
            return _codes(request, steps.new_codes(request.user))
        else:
            steps.turn_off(request.user, by=request.user)
            return redirect("my_doors")
    context = {
        "form": form,
        "row": row,
        "codes_left": row.recovery_codes.count(),
        "is_asked_for": is_asked_for,
        "wait_minutes": -(-steps.wait_s(request.user) // 60),
    }
    return render(request, "studio/second_step.html", context, status=400 if form.errors else 200)


def _codes(request: SignedInRequest, codes: list[str]) -> HttpResponse:
    """The paper for the day on which the phone is lost, shown this once."""
    return render(request, "studio/recovery_codes.html", {"codes": codes})


def _waits(waiting: dict[str, Any]) -> User | None:
    """Who stands between passphrase and second step; nobody when that was too long ago, or the passphrase changed."""
    if time.time() - waiting.get("at_s", 0) > WAITS_S:
        return None
    user = User.objects.filter(pk=waiting["user"], is_active=True).first()
    return user if user and user.get_session_auth_hash() == waiting["passphrase"] else None
