"""Where one recording is on its way, and what was heard in it once it has arrived."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

from django.utils.translation import gettext as _

from analysis.drawing import Strip
from assignments.exercises import Slot, kinds
from assignments.models import Exercise, Take, Try
from assignments.progress import Progress, progress
from assignments.queries import versions
from assignments.queries.said import Said, picture, said
from assignments.queries.shown import Shown, shown
from assignments.queries.sounding import Sounding, soundings, with_relations
from assignments.queries.versions import Version
from studio.models import Horn

STEPS = ("received", "waiting", "measuring", "done")
LATEST = 5


@dataclass(frozen=True, slots=True)
class HeardTone:
    """One tone that was asked for and what it came to."""

    row: Try
    sounding: Sounding
    said: Said
    strip: Strip | None
    sentence: str
    shown: Shown | None  # how the teacher plays it
    versions: tuple[Version, ...] = ()  # for a teacher, of a take that was measured again


@dataclass(frozen=True, slots=True)
class TakePage:
    take: Take
    progress: Progress
    tones: tuple[HeardTone, ...]
    asked: tuple[Slot, ...]

    @property
    def horn(self) -> Horn:
        return self.take.horn

    @property
    def title(self) -> str:
        return _("A tone of the lesson") if self.take.in_lesson else _(kinds()[self.take.exercise.kind].title)

    @property
    def steps(self) -> list[dict[str, Any]]:
        """The four places on the way, each passed, now or to come."""
        words = (_("It’s here"), _("Waiting its turn"), _("I’m listening"), _("Heard"))
        here = STEPS.index(self.progress.state) if self.progress.state in STEPS else len(STEPS)
        reached = ["hit" if place < here else "miss" if place == here else None for place in range(len(STEPS))]
        return [
            {"words": step, "kind": kind, "now": place == here}
            for place, (step, kind) in enumerate(zip(words, reached, strict=True))
        ]


def page(take: Take, *, of_staff: bool = False) -> TakePage:
    """A fixed number of queries. ``of_staff``: a teacher looks, who is told of every version of the engine."""
    tones = heard_tones(with_relations(take.tries.order_by("slot")))
    if of_staff:
        known = versions.of_tries([tone.row for tone in tones])
        tones = tuple(replace(tone, versions=known.get(tone.row.pk, ())) for tone in tones)
    return TakePage(
        take=take,
        progress=progress(take),
        tones=tones,
        asked=tuple(Slot(**row) for row in take.asked),
    )


def heard_tones(rows: Any) -> tuple[HeardTone, ...]:
    """``rows`` come from ``sounding.with_relations``, in the order wanted."""
    tries = list(rows)
    heard = soundings(tries)
    demonstrated = shown(heard.values())
    return tuple(_heard(heard[row.pk], demonstrated.get(row.pk)) for row in tries)


def _heard(one: Sounding, demonstrated: Shown | None) -> HeardTone:
    strip = one.drawn(flag=one.row.outcome == Try.Outcome.MISS)
    sentence = picture(one.row, strip.beats_flagged if strip else (), one.tone)
    return HeardTone(one.row, one, said(one.row, one.tone), strip, sentence, demonstrated)


def latest(exercise: Exercise) -> list[tuple[Take, Progress]]:
    """The last recordings of one exercise, newest first."""
    takes = (
        Take.objects.filter(exercise=exercise, in_lesson=False)
        .select_related("analysis")
        .order_by("-received_at")[:LATEST]
    )
    return [(take, progress(take)) for take in takes]
