"""Ensembles: who sits where, what they sound together, and how even it came out."""

from __future__ import annotations

import uuid
from collections.abc import Mapping, Sequence
from typing import Any

from django.contrib.auth.decorators import login_required
from django.http import HttpResponse
from django.shortcuts import redirect
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from assignments import access, ensembles, voicing
from assignments.ensemble_forms import ChordForm, SeatsForm, begin_with, chosen
from assignments.models import Chord, Ensemble
from assignments.queries import ensembles as ensembles_query
from assignments.queries import section as section_query
from assignments.refusals import Refusal
from assignments.views.desk import desk
from studio.access import DECIDERS, STAFF, horns_of_studio, staff_membership
from studio.models import Horn, Studio
from studio.signed_in import SignedInRequest

HERE = "studio_today"  # the word of the pages that these hang under
SPARE, SHOWN = 2, 4  # empty seats beside those that are taken; so many are shown at least


@login_required
@require_safe
def all_ensembles(request: SignedInRequest) -> HttpResponse:
    staff = staff_membership(request.user)
    return desk(request, "ensembles.html", HERE, {"views": ensembles_query.overview(staff.studio)}, staff=staff)


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def new_ensemble(request: SignedInRequest) -> HttpResponse:
    return _seats(request, staff_membership(request.user, DECIDERS).studio, None)


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def ensemble_seats(request: SignedInRequest, ensemble_id: uuid.UUID) -> HttpResponse:
    """Change the name and the seats; close it, or open it again."""
    found = access.ensemble_of_staff(request.user, ensemble_id, DECIDERS)
    if request.method == "POST" and "close" in request.POST:
        ensembles.close(found)
        return redirect("ensemble", ensemble_id=found.pk)
    if request.method == "POST" and "open" in request.POST:
        ensembles.open_again(found)
        return redirect("ensemble", ensemble_id=found.pk)
    return _seats(request, found.studio, found)


def _seats(request: SignedInRequest, studio: Studio, own: Ensemble | None) -> HttpResponse:
    horns = list(horns_of_studio(request.user, DECIDERS).filter(player__studio=studio))
    sitting = [str(seat.horn_id) for seat in own.seats.all()] if own else []
    form = SeatsForm(request.POST or None, horns=horns, initial={"name": own.name if own else "", "seats": sitting})
    refused = ""
    if request.method == "POST" and form.is_valid():
        sent = form.cleaned_data
        try:
            kept = ensembles.keep(studio=studio, by=request.user, name=sent["name"], horns=sent["seats"], ensemble=own)
            return redirect("ensemble", ensemble_id=kept.pk)
        except Refusal as refusal:
            refused = refusal.text
    chosen = [key for key in form["seats"].value() or () if key]
    seats = [*chosen, *[""] * max(SPARE, SHOWN - len(chosen))][: ensembles.MOST]
    context = {"form": form, "own": own, "seats": seats, "has_students": bool(horns), "refused": refused}
    status = 400 if request.method == "POST" else 200
    return desk(request, "ensemble_seats.html", HERE, context, status, studio=studio)


@login_required
@require_safe
def ensemble(request: SignedInRequest, ensemble_id: uuid.UUID) -> HttpResponse:
    found = access.ensemble_of_staff(request.user, ensemble_id, STAFF)
    return desk(request, "ensemble.html", HERE, {"view": ensembles_query.view(found)}, studio=found.studio)


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def new_chord(request: SignedInRequest, ensemble_id: uuid.UUID) -> HttpResponse:
    """``do``: ``give`` gives each seat a note, ``nearest`` moves what can't be played, ``set`` sets what was shown."""
    found = access.ensemble_of_staff(request.user, ensemble_id, DECIDERS)
    horns = ensembles.sitting(found)
    if found.closed_on or not horns:
        return redirect("ensemble", ensemble_id=found.pk)  # which says why nothing can be set
    reaches = [voicing.reach_of(horn) for horn in horns]
    form = ChordForm(request.POST or None, reaches=reaches, initial=begin_with(found.studio.today()))
    do = request.POST.get("do", "")
    now = chosen(form, reaches, do)
    notes = list(zip(horns, now.notes, strict=True))
    refused = ""
    if do == "set" and form.is_valid() and not now.is_new:
        try:
            return redirect("chord", chord_id=_set(request, found, notes, form.cleaned_data).pk)
        except Refusal as refusal:
            refused = refusal.text
    seats = ensembles_query.seat_notes(notes, form.sounding)
    context = {
        "ensemble": found,
        "form": form,
        "seats": seats,
        "blocked": any(seat.obstacle for seat in seats),
        "of": now.of,
        "refused": refused,
        "changed": do == "set" and now.is_new and form.is_valid(),
    }
    status = 400 if request.method == "POST" and (refused or not form.is_valid()) else 200
    return desk(request, "new_chord.html", HERE, context, status, studio=found.studio)


def _set(request: SignedInRequest, of: Ensemble, notes: Sequence[tuple[Horn, int]], sent: Mapping[str, Any]) -> Chord:
    return ensembles.set_chord(
        ensemble=of,
        by=request.user,
        quality=sent["quality"],
        root_sounding_midi=sent["root"],
        notes=notes,
        tone=sent["tone"],
        for_on=sent["for_on"],
        words=sent["words"],
        key=sent["key"],
    )


@login_required
@require_safe
def chord(request: SignedInRequest, chord_id: uuid.UUID) -> HttpResponse:
    """Who has sent it, and how even the section is."""
    found = access.chord_of_staff(request.user, chord_id, STAFF)
    page = section_query.page(found)
    return desk(request, "chord.html", HERE, {"page": page}, studio=found.ensemble.studio)


@login_required
@require_POST
def take_chord_back(request: SignedInRequest, chord_id: uuid.UUID) -> HttpResponse:
    found = access.chord_of_staff(request.user, chord_id, DECIDERS)
    ensembles.take_back(found)
    return redirect("ensemble", ensemble_id=found.ensemble_id)
