"""Where this horn's own notes lie: learned from what was played, proposed to the teacher, held against from her yes.

A horn can't be right on every note, and no table fits each horn. So the middle of a note's readings is compared with
the middle of all notes: what every note shares is the mouthpiece's place and the player's to tune, what one note has
beyond that is the horn's. The figures below are ours: enough takes on enough days that the middle is known to a few
cents, and no proposal that could hide what practice mends.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from statistics import median

from django.db import transaction
from django.utils.translation import gettext as _

from assignments import targets
from assignments.models import EquipmentChange, Try
from assignments.refusals import Refusal
from studio.models import Horn, User

MEASURE = "note_offset_cents"
LEVELS = ("p", "mp", "mf", "f")  # at the ends of soft and loud pitch tells of the player more than of the horn
LOOK_BACK = dt.timedelta(days=90)
LEAST_TAKES, LEAST_DAYS = 6, 4
LEAST_NOTES = 8  # fewer don't tell where the middle of all lies
LEAST_CENTS, MOST_CENTS = 5.0, 25.0  # less is hardly heard in a lone tone; more is no lie, but something to look into
SURE = 2.0  # standard errors that an offset must stand away from none
MAD_TO_SD = 1.4826  # of a normal spread
MEDIAN_TO_MEAN = 1.2533  # standard error of a median over that of a mean, of a normal spread
ANEW = (EquipmentChange.What.HORN, EquipmentChange.What.MOUTHPIECE)  # what was learned before them holds no more


@dataclass(frozen=True, slots=True)
class Reading:
    on: dt.date
    written_midi: int
    pitch_cents: float


@dataclass(frozen=True, slots=True)
class Lie:
    """One note: by how many cents it lies off the others, from so many takes; ``held``: what is confirmed now."""

    written_midi: int
    cents: float
    error_cents: float  # one standard error
    takes: int
    days: int
    held: float

    @property
    def rounded(self) -> float:
        return float(round(self.cents))

    @property
    def size_cents(self) -> int:
        """Without its direction."""
        return abs(round(self.cents))


def learned(readings: Iterable[Reading], held: Mapping[int, float]) -> tuple[Lie, ...]:
    """What may be proposed, low to high. Pure: the same readings give the same lies."""
    notes: dict[int, list[Reading]] = {}
    for one in readings:
        notes.setdefault(one.written_midi, []).append(one)
    enough = {midi: rows for midi, rows in notes.items() if _enough(rows)}
    if len(enough) < LEAST_NOTES:
        return ()
    middles = {midi: median(one.pitch_cents for one in rows) for midi, rows in enough.items()}
    shared = median(middles.values())
    lies = [_lie(midi, rows, middles[midi] - shared, held.get(midi, 0.0)) for midi, rows in sorted(enough.items())]
    return tuple(lie for lie in lies if _worth_saying(lie))


def _enough(rows: list[Reading]) -> bool:
    return len(rows) >= LEAST_TAKES and len({one.on for one in rows}) >= LEAST_DAYS


def _lie(midi: int, rows: list[Reading], cents: float, held: float) -> Lie:
    middle = median(one.pitch_cents for one in rows)
    spread = MAD_TO_SD * median(abs(one.pitch_cents - middle) for one in rows)
    error = MEDIAN_TO_MEAN * spread / math.sqrt(len(rows))
    return Lie(midi, cents, error, len(rows), len({one.on for one in rows}), held)


def _worth_saying(lie: Lie) -> bool:
    """It is heard, it is sure, it is no more than a horn does, and it isn't what holds already."""
    is_lie = LEAST_CENTS <= abs(lie.cents) <= MOST_CENTS and abs(lie.cents) > SURE * lie.error_cents
    moved = abs(lie.cents - lie.held) >= LEAST_CENTS
    return is_lie and moved


def proposed(horn: Horn) -> tuple[Lie, ...]:
    """What this horn's takes of the last weeks say, since its last change of mouthpiece or horn. Three queries."""
    on = horn.studio.today()
    first = on - LOOK_BACK
    anew = EquipmentChange.objects.filter(horn=horn, what__in=ANEW, on__gte=first).order_by("on").last()
    tries = Try.objects.filter(horn=horn, counts=True, tone__in=LEVELS, on__gte=anew.on if anew else first)
    rows = tries.filter(soft_reading__isnull=False).values_list("on", "written_midi", "soft_reading")
    read = [(on, midi, (reading or {}).get("pitch_cents")) for on, midi, reading in rows]
    return learned([Reading(on, midi, cents) for on, midi, cents in read if cents is not None], held(horn))


def held(horn: Horn) -> dict[int, float]:
    """What stands now, by written note: confirmed offsets, and those the horn came with."""
    came = {int(midi): float(cents) for midi, cents in horn.note_offsets_cents.items()}
    rows = targets.standing(horn.target_changes.filter(measure=MEASURE, written_midi__isnull=False))
    return came | {row.written_midi: row.value for row in rows if row.written_midi and row.value is not None}


def confirm(horn: Horn, *, by: User, notes: Iterable[int]) -> None:
    """The teacher's yes to proposals for these written notes: tones of coming days are measured against them.

    Raises Refusal where nothing, or nothing more, is proposed for one of them.
    """
    lies = {lie.written_midi: lie for lie in proposed(horn)}
    wanted = sorted(set(notes))
    if not wanted or not set(wanted) <= set(lies):
        raise Refusal("no_such_offset", _("Choose notes from the list; it may have changed meanwhile."), 409)
    with transaction.atomic():
        for midi in wanted:
            targets.write(horn, by=by, measure=MEASURE, value=lies[midi].rounded, written_midi=midi)


def take_back(horn: Horn, *, by: User, written_midi: int) -> None:
    """From the next day on the note is measured like any other."""
    if not held(horn).get(written_midi):
        raise Refusal("no_such_offset", _("Choose notes from the list; it may have changed meanwhile."), 409)
    targets.write(horn, by=by, measure=MEASURE, value=0.0, written_midi=written_midi)
