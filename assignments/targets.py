"""Targets moved for one student: for one note, one tone word, both or all, from a day on.

A week carries what was moved before it was set; a change in the middle of a week is written into the weeks that still
hold, with its first day, so days that were played keep the limits they were judged by.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import product
from typing import Any

from django.db import transaction
from django.utils.formats import number_format
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from analysis.core.records import Target
from analysis.core.targets import LEVELS, TONES, rows, target_for
from assignments import ear_answers, gate_rules
from assignments.exercises import TONE_WORDS
from assignments.models import TargetChange, Week
from assignments.refusals import Refusal
from studio.models import Horn, User

STAYS_DAYS = 14  # last week's tones stay playable this long when no new week is set
TIGHTEST, WIDEST = 0.25, 4.0  # times the table's limits: below, the reading itself ends; above, nothing is limited
MS, IN_A_HUNDRED = 1000.0, 100.0


@dataclass(frozen=True, slots=True)
class Measure:
    """What a teacher may move. ``shown``: how many of ``unit`` are one of the table's."""

    key: str
    label: Any
    unit: Any
    shown: float = 1.0
    most: float | None = None  # in the table's unit, where more can't be

    def limits(self) -> tuple[float, float]:
        """The least and the most that may be set, in ``unit``."""
        values = [row.limits[level] for row in rows() if row.measure == self.key and not row.add for level in LEVELS]
        most = min(max(values) * WIDEST, self.most if self.most is not None else max(values) * WIDEST)
        return round(min(values) * TIGHTEST * self.shown, 3), round(most * self.shown, 3)


PAIRS = (("peak_from", "peak_to"), ("slope_ratio_from", "slope_ratio_to"), ("extent_from_cents", "extent_to_cents"))
PLAIN_NOTE, PLAIN_TONE = 70, "mf"  # where no exception of the table holds

_CENTS, _DB, _MS = gettext_lazy("cents"), gettext_lazy("dB"), gettext_lazy("ms")
_SHARE = gettext_lazy("in a hundred")
MEASURES = {
    one.key: one
    for one in (
        Measure("pitch_cents", gettext_lazy("pitch, off by at most"), _CENTS),
        Measure("pitch_spread_cents", gettext_lazy("pitch, wavering at most"), _CENTS),
        Measure("pitch_drift_cents_per_s", gettext_lazy("pitch, drifting at most"), gettext_lazy("cents a second")),
        Measure("level_steps", gettext_lazy("level, off its mark by at most"), gettext_lazy("steps")),
        Measure("level_spread_db", gettext_lazy("level, wavering at most"), _DB),
        Measure("level_drift_db_per_s", gettext_lazy("level, drifting at most"), gettext_lazy("dB a second")),
        Measure("rise_s", gettext_lazy("start, rising within"), _MS, MS),
        Measure("scoop_cents", gettext_lazy("start, pitch off by at most"), _CENTS),
        Measure("settle_s", gettext_lazy("start, settled within"), _MS, MS),
        Measure("air_before_s", gettext_lazy("air before the tone, at most"), _MS, MS),
        Measure("sag_cents", gettext_lazy("end, sagging at most"), _CENTS),
        Measure("hnr_db", gettext_lazy("tone over noise, at least"), _DB),
        Measure("shape_range_db", gettext_lazy("shapes: softest to loudest, at least"), _DB),
        Measure("shape_pitch_range_cents", gettext_lazy("shapes: pitch moves at most"), _CENTS),
        Measure("smallest_step_db", gettext_lazy("steps: the smallest, at least"), _DB),
        Measure("step_sd_db", gettext_lazy("steps: unequal by at most"), _DB),
        Measure("step_share", gettext_lazy("steps: one off the middle one by at most"), _SHARE, IN_A_HUNDRED, 1.0),
        Measure("slide_share", gettext_lazy("steps: slid instead of stepped, at most"), _SHARE, IN_A_HUNDRED, 1.0),
        Measure("steps_at_least", gettext_lazy("steps: at least"), gettext_lazy("steps"), most=8.0),
        Measure("peak_from", gettext_lazy("swells: peak not before"), _SHARE, IN_A_HUNDRED, 1.0),
        Measure("peak_to", gettext_lazy("swells: peak not after"), _SHARE, IN_A_HUNDRED, 1.0),
        Measure("slope_ratio_from", gettext_lazy("swells: up over down, at least"), gettext_lazy("times")),
        Measure("slope_ratio_to", gettext_lazy("swells: up over down, at most"), gettext_lazy("times")),
        Measure("straightness", gettext_lazy("swells: straightness, at least"), _SHARE, IN_A_HUNDRED, 1.0),
        Measure("ends_differ_db", gettext_lazy("swells: the two ends differ by at most"), _DB),
        Measure("backwards_db", gettext_lazy("swells: against the line by at most"), _DB),
        Measure("pulse_share", gettext_lazy("vibrato: off the pulse by at most"), _SHARE, IN_A_HUNDRED, 1.0),
        Measure("extent_from_cents", gettext_lazy("vibrato: width, at least"), _CENTS),
        Measure("extent_to_cents", gettext_lazy("vibrato: width, at most"), _CENTS),
        Measure("rate_cv", gettext_lazy("vibrato: pulse uneven by at most"), _SHARE, IN_A_HUNDRED, 1.0),
        Measure("extent_cv", gettext_lazy("vibrato: width uneven by at most"), _SHARE, IN_A_HUNDRED, 1.0),
    )
}


def move(
    horn: Horn, *, by: User, measure: str, value: float | None, written_midi: int | None = None, tone: str = ""
) -> TargetChange:
    """Move one target from today on, or from tomorrow where something was played today. ``value`` in the table's unit.

    None takes the nearest change back. Raises Refusal for what there is no target of, and a limit that limits nothing.
    """
    _check(horn, measure, value, written_midi, tone)
    with transaction.atomic():  # a change that crosses another is not kept
        row = write(horn, by=by, measure=measure, value=value, written_midi=written_midi, tone=tone)
        if any(measure in pair for pair in PAIRS):
            _check_pairs(horn, row.from_on)
    return row


def write(
    horn: Horn, *, by: User, measure: str, value: float | None, written_midi: int | None = None, tone: str = ""
) -> TargetChange:
    """What ``move`` does once nothing stands against it."""
    with transaction.atomic():
        Horn.objects.select_for_update().get(pk=horn.pk)
        from_on = gate_rules.first_day(horn.studio, horn)
        row = TargetChange.objects.create(
            horn=horn, measure=measure, value=value, written_midi=written_midi, tone=tone, from_on=from_on, by=by
        )
        for week in Week.objects.filter(horn=horn, ends_on__gte=from_on - dt.timedelta(days=STAYS_DAYS)):
            week.target_changes = [*week.target_changes, _said(row)]
            week.save(update_fields=["target_changes"])
    return row


def _check(horn: Horn, measure: str, value: float | None, written_midi: int | None, tone: str) -> None:
    lowest, highest = horn.written_range
    known = measure in MEASURES and (not tone or tone in TONE_WORDS)
    if not known or (written_midi is not None and not lowest <= written_midi <= highest):
        raise Refusal("no_such_target", _("There is no such target. Choose one of the list."))
    if value is None:
        return
    one = MEASURES[measure]
    least, most = one.limits()
    if not least <= value * one.shown <= most:
        places = {"least": number_format(f"{least:g}"), "most": number_format(f"{most:g}"), "unit": one.unit}
        raise Refusal("limit_out_of_range", _("Between %(least)s and %(most)s %(unit)s it means something.") % places)


def _check_pairs(horn: Horn, on: dt.date) -> None:
    """Whether something lies between every two limits of one measure, wherever either was moved."""
    said = [*ear_answers.changes(horn, on), *changes(horn)]
    notes = {row.get("written_midi", PLAIN_NOTE) for row in said} | {PLAIN_NOTE}
    for note, tone in product(sorted(notes), TONES):
        now = _held(horn, on, note, tone, said)
        if any(getattr(now, low) >= getattr(now, high) for low, high in PAIRS):
            raise Refusal("limits_cross", _("Then nothing could lie between the lower limit and the upper one."))


def held(horn: Horn, on: dt.date, written_midi: int = PLAIN_NOTE, tone: str = PLAIN_TONE) -> Target:
    """The limits that a week of that horn beginning on that day has for a note and a tone."""
    return _held(horn, on, written_midi, tone, [*ear_answers.changes(horn, on), *changes(horn)])


def _held(horn: Horn, on: dt.date, written_midi: int, tone: str, said: list[dict[str, Any]]) -> Target:
    lowest, highest = horn.written_range
    return target_for(
        horn.level,  # type: ignore[arg-type]  # the model's choices are the table's levels
        written_midi,
        tone,
        lowest=lowest,
        highest=highest,
        changes=said,
        on=on.isoformat(),
    )


def changes(horn: Horn) -> list[dict[str, Any]]:
    """What a new week of that horn carries, as ``analysis.core.targets`` reads it."""
    return [_said(row) for row in horn.target_changes.all()]


def _said(row: TargetChange) -> dict[str, Any]:
    where: dict[str, Any] = {"written_midi": row.written_midi} if row.written_midi is not None else {}
    where |= {"tone": row.tone} if row.tone else {}
    return {"measure": row.measure, "value": row.value, "from": row.from_on.isoformat(), **where}


def standing(moved: Iterable[TargetChange]) -> list[TargetChange]:
    """Of all that was moved, what was last said of each target, note and tone, without what was taken back."""
    latest = {(row.measure, row.written_midi, row.tone): row for row in moved}
    return [row for row in latest.values() if row.value is not None]
