"""Notes of a reminder on the device in hand: asked for here, and ended here."""

from __future__ import annotations

import hashlib
import uuid

from django.conf import settings
from django.contrib.auth.decorators import login_required
from django.http import Http404, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import get_language
from django.views.decorators.http import require_http_methods

from assignments import reminder_devices
from assignments.home_forms import DeviceForm, ForgetForm
from assignments.models import ReminderDevice
from assignments.push import base64url
from studio import devices as shared_devices
from studio.access import is_of_family
from studio.signed_in import SignedInRequest


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def device_reminder(request: SignedInRequest, membership_id: uuid.UUID) -> HttpResponse:
    """For the family, and for the student on a phone of their own; ``what``: "add" this device, or "forget" one.

    A device that several students share has none: the note of one would come while another plays.
    """
    if not settings.PUSH:
        raise Http404
    player = reminder_devices.player_for(request.user, membership_id)
    chosen = reminder_devices.on_offer(player)
    is_shared = shared_devices.of_request(request) is not None
    what = request.POST.get("what", "")
    form = DeviceForm(request.POST if what == "add" else None)
    which = ForgetForm(request.POST if what == "forget" else None)
    if chosen and which.is_valid():
        reminder_devices.forget(chosen, which.cleaned_data["device"], by=request.user)
        return redirect("device_reminder", membership_id=player.pk)
    here = request.session.session_key or ""
    if chosen and not is_shared and form.is_valid():
        given = {**form.cleaned_data, "site_key": _site_key(), "language": get_language() or "en"}
        reminder_devices.add(chosen, session_key=here, **given)
        return redirect("device_reminder", membership_id=player.pk)
    decides = is_of_family(request.user, player.pk)
    known = [one for one in (reminder_devices.living(chosen) if chosen else []) if decides or _is_own(one, request)]
    in_hand = next((one for one in known if one.session_id == here), None)
    context = {
        "player": player,
        "chosen": chosen,
        "decides": decides,
        "is_shared": is_shared,
        "here": in_hand,
        "address_sum": _sum(in_hand.endpoint) if in_hand else "",
        "others": [one for one in known if one.session_id != here],
        "form": form,
        "site_key": _site_key() if chosen and not is_shared else "",
    }
    return render(request, "assignments/at_home/device.html", context, status=400 if form.errors else 200)


def _is_own(device: ReminderDevice, request: SignedInRequest) -> bool:
    return device.session.user_id == request.user.pk


def _sum(address: str) -> str:
    """By which the page can tell whether the browser has another one by now: the address itself is a secret."""
    return base64url.encode(hashlib.sha256(address.encode()).digest())


def _site_key() -> str:
    from assignments.reminder_posts import site_key  # noqa: PLC0415  # elliptic curves come with the one page that needs them

    return site_key()
