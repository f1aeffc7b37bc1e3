"""What a teacher decides about a gate: written down with words and dates, and at once in force."""

from __future__ import annotations

import datetime as dt

from django.db import transaction
from django.utils.translation import gettext as _

from assignments import openings, standings
from assignments.exercises import STAGES
from assignments.models import Decision
from assignments.refusals import Refusal
from studio.models import Horn, User

Kind = Decision.Kind
OF_EVERY_STAGE = (Kind.PAUSE, Kind.RESUME)


def decide(
    *,
    horn: Horn,
    by: User,
    kind: str,
    stage: int | None = None,
    words: str = "",
    until_on: dt.date | None = None,
    on: dt.date | None = None,
) -> Decision:
    """Write a decision of studio-local day ``on`` (default: today), and the opening it makes.

    Raises Refusal for a yes to what isn't asked, a stage above a shut one, or an end before the beginning.
    """
    on = on or horn.studio.today()
    if until_on is not None and until_on < on:
        raise Refusal("until_before", _("The last day lies before the first. Change one of them."))
    if kind in OF_EVERY_STAGE:
        stage = None
    elif stage not in STAGES:
        raise Refusal("which_stage", _("Say which high notes you mean: the first, second or third stage."))
    with transaction.atomic():
        Horn.objects.select_for_update().get(pk=horn.pk)
        if stage:
            _may_decide(horn, stage, kind, on)
        calls_off = kind == Kind.RESUME and pause_on(horn, on) is None
        decision = Decision.objects.create(
            horn=horn, by=by, kind=kind, stage=stage, words=words, until_on=until_on, on=on
        )
        if calls_off:  # nothing runs that could be meant, so what was planned is
            _end_planned(horn, by, on)
        openings.look(horn)
    return decision


def pause_on(horn: Horn, on: dt.date) -> Decision | None:
    """The pause that holds on that day: the one begun last, unless it is over or was ended."""
    begun = Decision.objects.filter(horn=horn, on__lte=on, kind__in=OF_EVERY_STAGE)
    last = begun.order_by("on", "made_at").last()
    if last is None or last.kind == Kind.RESUME or (last.until_on is not None and last.until_on < on):
        return None
    return last


def _end_planned(horn: Horn, by: User, on: dt.date) -> None:
    """A pause that was set for later is ended on its own first day: it never begins."""
    later = Decision.objects.filter(horn=horn, on__gt=on, kind__in=OF_EVERY_STAGE).order_by("made_at")
    latest = {decision.on: decision.kind for decision in later}
    Decision.objects.bulk_create(
        Decision(horn=horn, by=by, kind=Kind.RESUME, on=day) for day, kind in latest.items() if kind == Kind.PAUSE
    )


def _may_decide(horn: Horn, stage: int, kind: str, on: dt.date) -> None:
    if kind in (Kind.CONFIRM, Kind.OPEN) and stage > 1 and not standings.is_open(horn, stage - 1, on):
        raise Refusal("stage_below_shut", _("The stage below it is shut. Open that one first."), 409)
    if kind == Kind.CONFIRM and standings.standing(horn, stage, on).state != "ready":
        raise Refusal(
            "not_asked", _("The rule isn’t met now, so nothing is asked. You can still open it by hand."), 409
        )
