"""A shared device: a grown-up enrols it and sets PINs; then it asks whose turn it is."""

from __future__ import annotations

import uuid

from django.contrib.auth import logout
from django.contrib.auth.decorators import login_required
from django.db.models import Q, QuerySet
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from studio import devices as shared_devices
from studio import pins, sessions
from studio.access import DECIDERS, memberships, wards
from studio.door_forms import DeviceForm, PinForm
from studio.models import Device, Membership, User
from studio.signed_in import SignedInRequest


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def devices(request: SignedInRequest) -> HttpResponse:
    """Enrol the device in hand. For guardians and those who teach; what comes next on it is “Whose turn?”"""
    players = _players_of(request.user)
    if not players.exists():
        if request.method == "POST" or not memberships(request.user, DECIDERS).exists():
            raise Http404
        return render(request, "studio/no_players.html")
    form = DeviceForm(request.POST or None, players=players)
    if request.method == "POST" and form.is_valid():
        chosen = list(form.cleaned_data["players"])
        name = form.cleaned_data["name"]
        _device, secret = shared_devices.enrol(studio=chosen[0].studio, by=request.user, name=name, players=chosen)
        logout(request)
        answer = redirect("whose_turn")
        shared_devices.remember(answer, secret)
        return answer
    context = {"form": form, "devices": _devices_of(request.user), "players": players.select_related("pin")}
    return render(request, "studio/devices.html", context, status=400 if form.errors else 200)


@login_required
@require_POST
def end_device(request: SignedInRequest, device_id: uuid.UUID) -> HttpResponse:
    shared_devices.remove(get_object_or_404(_devices_of(request.user), pk=device_id), by=request.user)
    return redirect("devices")


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def pin(request: SignedInRequest, membership_id: uuid.UUID) -> HttpResponse:
    """New digits for one child, by the family or those who teach."""
    player = get_object_or_404(_players_of(request.user), pk=membership_id)
    form = PinForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        pins.set_pin(player, form.cleaned_data["digits"], by=request.user)
        return redirect("devices")
    return render(request, "studio/pin.html", {"player": player, "form": form}, status=400 if form.errors else 200)


@require_safe
def whose_turn(request: HttpRequest) -> HttpResponse:
    """Names to tap. Only on an enrolled device; elsewhere one signs in."""
    device = shared_devices.of_request(request)
    if device is None:
        return redirect("sign-in")
    return render(request, "studio/whose_turn.html", {"device": device, "players": shared_devices.players(device)})


@require_http_methods(["GET", "HEAD", "POST"])
def turn_of(request: HttpRequest, membership_id: uuid.UUID) -> HttpResponse:
    """The PIN of whoever was tapped. After five wrong ones a grown-up sets another."""
    device = shared_devices.of_request(request)
    if device is None:
        raise Http404
    player = get_object_or_404(shared_devices.players(device), pk=membership_id)
    form = PinForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        if pins.opens(player, form.cleaned_data["digits"]):
            sessions.begin(request, player.user, shared=device.name)
            return redirect("home")
        form.add_error("digits", _("That isn’t it."))
    locked = pins.is_locked(player)
    status = 429 if locked else 400 if form.errors else 200
    return render(request, "studio/turn_of.html", {"player": player, "form": form, "locked": locked}, status=status)


def _players_of(user: User) -> QuerySet[Membership]:
    """Whom this grown-up may let play on a shared device."""
    studios = [row.studio_id for row in memberships(user, DECIDERS)]
    taught = pins.of_one_studio(pins.players().filter(studio__in=studios)).values("pk")
    found = pins.players().filter(Q(pk__in=wards(user).values("pk")) | Q(pk__in=taught))
    return found.select_related("user", "studio").order_by("user__name", "pk")


def _devices_of(user: User) -> QuerySet[Device]:
    studios = [row.studio_id for row in memberships(user, DECIDERS)]
    return (Device.objects.filter(enrolled_by=user) | Device.objects.filter(studio__in=studios)).order_by("enrolled_at")
