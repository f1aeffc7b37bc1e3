"""From what was heard to tries, and from tries to the gate. The same twice makes it once."""

from __future__ import annotations

import logging
from collections.abc import Iterator
from dataclasses import asdict
from uuid import UUID

from django.db import transaction
from django.utils import timezone

from analysis import results
from analysis.core import judge
from analysis.core.records import Measurement, Verdict
from analysis.models import Analysis
from assignments import openings, spots, squeezes, standings
from assignments.exercises import Slot, kinds
from assignments.limits import scale_of, target_of
from assignments.models import Take, Try
from studio.models import Horn

log = logging.getLogger(__name__)


def settle(analysis_id: UUID) -> None:
    """Write the tries of a recording whose measuring is over, and look at the gate. Does nothing a second time."""
    with transaction.atomic():
        take = _to_settle(analysis_id)
        if take is None:
            return
        Try.objects.bulk_create(_tries(take))
        take.settled_at = timezone.now()
        take.save(update_fields=["settled_at"])
        standings.fold(take.horn, take.on)
        squeezes.look(take.horn, take.on)
        if take.exercise.kind == "evenness_run":
            spots.look(take.horn)
        opened = openings.look(take.horn)
    known = {"take": str(take.pk), "analysis": str(analysis_id)}
    log.info("settled", extra=known)
    for opening in opened:
        log.info("opened", extra={**known, "horn": str(take.horn_id), "stage": opening.stage})


def _to_settle(analysis_id: UUID) -> Take | None:
    """The take, if its measuring is over and nobody settled it; its horn is locked, so that takes settle one by one."""
    horn_id = Take.objects.filter(analysis=analysis_id).values_list("horn_id", flat=True).first()
    if horn_id is None:
        return None
    if Horn.objects.select_for_update().filter(pk=horn_id).first() is None:
        return None  # deleted meanwhile, with all that was played on it
    take = Take.objects.select_related("analysis", "exercise__week", "horn__player__studio").get(analysis=analysis_id)
    return take if take.settled_at is None and take.analysis.is_over else None


def _tries(take: Take) -> Iterator[Try]:
    result = take.analysis.results.order_by("made_at").last()
    heard = results.measurement(result.report) if take.analysis.state == Analysis.State.MEASURED and result else None
    counts = kinds()[take.exercise.kind].counts and not take.in_lesson
    set_up = squeezes.set_up_of(take)
    for place, row in enumerate(take.asked):
        slot = Slot(**row)
        verdict, tone_index = verdict_on(take, slot, place, heard)
        yield Try(
            take=take,
            horn=take.horn,
            on=take.on,
            played_at=take.received_at,
            slot=place,
            counts=counts,
            written_midi=slot.written_midi,
            partial=slot.partial,
            tone=slot.tone,
            lane=slot.lane,
            outcome=verdict.outcome,
            tone_index=tone_index,
            checks=[asdict(check) for check in verdict.checks],
            reasons=list(verdict.reasons),
            soft_reading=squeezes.reading_of(slot, heard, tone_index, on=take.on, set_up=set_up) if counts else None,
        )


def verdict_on(take: Take, slot: Slot, place: int, heard: Measurement | None) -> tuple[Verdict, int | None]:
    """What one asked tone came to, and which heard tone answered it."""
    if heard is None:
        return judge.not_heard((take.analysis.fault_code,)), None
    answer = next((tone for tone in heard.tones if tone.asked_index == place), None)
    if answer is None:
        return judge.not_heard(_why_not(take, heard)), None
    verdict = judge.judge(answer, slot.asked(), target_of(take, slot), heard.capture, scale_of(take))
    return verdict, answer.index


def _why_not(take: Take, heard: Measurement) -> tuple[str, ...]:
    """Why nothing answers what was asked. Where one note was asked for and another is clear, fingers were elsewhere."""
    if heard.capture.reasons:
        return heard.capture.reasons
    is_other = len(take.asked) == 1 and any(tone.readable for tone in heard.tones)
    return ("other_note",) if is_other else ("not_heard",)
