"""Writing down what a teacher's ear said, and taking a limit from it. No past day changes: weeks keep their targets."""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Iterable
from typing import Any

from django.utils import timezone
from django.utils.translation import gettext as _

from assignments import ear
from assignments.models import AdoptedLimit, EarAnswer, Try
from assignments.refusals import Refusal
from studio.models import Horn, Studio, User

# Part of a check -> the target it was held against, by the kind of tone that has it. Not here: what has no limit to be
# wider or narrower (a crack, steps that turn back), and how many steps there are.
OF_TONES = {
    "pitch_cents": "pitch_cents",
    "pitch_spread_cents": "pitch_spread_cents",
    "pitch_drift_cents": "pitch_drift_cents_per_s",
    "level_spread_db": "level_spread_db",
    "level_drift_db_per_s": "level_drift_db_per_s",
    "level_db": "level_steps",
    "scoop_cents": "scoop_cents",
    "settle_s": "settle_s",
    "air_before_s": "air_before_s",
    "rise_s": "rise_s",
    "sag_cents": "sag_cents",
    "hnr_db": "hnr_db",
}
OF_SWELLS = (
    "shape_range_db", "peak_from", "peak_to", "slope_ratio_from", "slope_ratio_to", "straightness", "ends_differ_db",
    "backwards_db",
)  # fmt: skip
OF_STEPS = ("smallest_step_db", "step_share", "step_sd_db", "slide_share")
OF_SHAPES = ("shape_pitch_range_cents",)
TARGETS = {**OF_TONES, **{measure: measure for measure in (*OF_SHAPES, *OF_SWELLS, *OF_STEPS)}}
ADVICE = ("sag_cents", "hnr_db")  # told, never decided by
DECIDES_FROM = {"rise_s": 2.0}  # times its limit (SLOW_ALONE of analysis.core.checks_ends); the others from 1 on


def answer(about: Try, *, by: User, accepted: bool) -> EarAnswer:
    """The last word on a tone counts."""
    return EarAnswer.objects.update_or_create(by=by, about_try=about, defaults={"accepted": accepted})[0]


def agree(about: Try, *, by: User, agrees: bool) -> EarAnswer:
    """A word beside the verdict, which it names: kept apart from the blind ones, and never in their place.

    Raises Refusal where there is no verdict to agree with.
    """
    if about.outcome == Try.Outcome.UNREADABLE:
        raise Refusal("no_verdict", _("That tone couldn’t be heard, so there is no verdict to agree with."), 409)
    accepted = (about.outcome == Try.Outcome.HIT) == agrees
    blind = EarAnswer.objects.filter(by=by, about_try=about, blind=True).first()
    if blind is not None:
        return blind
    values = {"accepted": accepted, "blind": False, "made_at": timezone.now()}
    return EarAnswer.objects.update_or_create(by=by, about_try=about, defaults=values)[0]


def agreements(by: User, about: Iterable[uuid.UUID]) -> dict[uuid.UUID, bool]:
    """By tone, whether that ear came to the same as the verdict. One query."""
    rows = EarAnswer.objects.filter(by=by, about_try__in=list(about))
    found = rows.values_list("about_try", "accepted", "about_try__outcome")
    return {key: accepted == (outcome == Try.Outcome.HIT) for key, accepted, outcome in found}


def take_back(*, by: User, level: str) -> None:
    """Forget the last answer of that level, so that its tone comes again."""
    last = (
        EarAnswer.objects.filter(by=by, blind=True, about_try__take__exercise__week__level=level)
        .order_by("made_at")
        .last()
    )
    if last is not None:
        last.delete()


def adopt(found: ear.Finding, *, studio: Studio, level: str, by: User) -> AdoptedLimit:
    """Take the offered limit for the weeks that begin from today on. Raises Refusal while too little was heard."""
    if not found.may_be_adopted:
        raise Refusal(
            "too_little_heard",
            _("%(n)s accepted tones are needed before a limit can be taken from them. Hear some more.")
            % {"n": ear.LEAST_ACCEPTED},
        )
    figures = {
        "accepted": found.kept.of, "kept": found.kept.count, "others": found.caught.of, "caught": found.caught.count,
    }  # fmt: skip
    return _write(studio, level, found.measure, found.factor, by, figures)


def back_to_table(measure: str, *, studio: Studio, level: str, by: User) -> AdoptedLimit:
    """For the weeks that begin from today on the table's own limit holds again."""
    if measure not in TARGETS.values():
        raise Refusal("no_such_target", _("There is no such target. Choose one of the list."))
    return _write(studio, level, measure, None, by, {})


def _write(
    studio: Studio, level: str, measure: str, factor: float | None, by: User, found: dict[str, Any]
) -> AdoptedLimit:
    return AdoptedLimit.objects.create(
        studio=studio, level=level, measure=measure, factor=factor, from_on=studio.today(), found=found, by=by
    )


def in_force(studio: Studio, level: str, on: dt.date) -> dict[str, AdoptedLimit]:
    """By target, the latest adopted one that holds for a week beginning that day; one that went back is left out."""
    rows = AdoptedLimit.objects.filter(studio=studio, level=level, from_on__lte=on).select_related("by")
    latest = {row.measure: row for row in rows}  # in the order of their days
    return {measure: row for measure, row in latest.items() if row.factor is not None}


def changes(horn: Horn, starts_on: dt.date) -> list[dict[str, Any]]:
    """What a week of that horn beginning then carries, as ``analysis.core.targets`` reads it."""
    held = in_force(horn.player.studio, horn.level, starts_on)
    return [
        {"measure": measure, "factor": row.factor, "from": row.from_on.isoformat()} for measure, row in held.items()
    ]
