"""One tone: what happened in it, its neighbours, its past, what was said about it."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from uuid import UUID

from analysis.drawing import Strip
from assignments import ear_answers, equipment
from assignments.models import Comment, PrivateNote, Take, Try
from assignments.queries import past, versions
from assignments.queries.around import AGO_DAYS, Before, around, before, neighbours
from assignments.queries.said import Said, picture, said
from assignments.queries.shown import Shown, shown
from assignments.queries.sounding import Sounding, soundings, with_relations
from assignments.queries.versions import Version
from studio.models import Horn, User


@dataclass(frozen=True, slots=True)
class Earlier:
    """The same tone, weeks ago."""

    now: Sounding
    then: Before
    strip: Strip | None
    sentence: str
    said: Said

    @property
    def in_turn_json(self) -> str:
        """For hear.js: then, and now."""
        return json.dumps([self.then.sounding.stretch, self.now.stretch])

    @property
    def in_turn_gains_json(self) -> str:
        """The louder one is played as soft as the other, so that nothing breaks up."""
        return json.dumps([min(0.0, self.then.gain_db), min(0.0, -self.then.gain_db)])

    @property
    def can_be_compared(self) -> bool:
        return self.now.is_kept and self.now.tone is not None


@dataclass(frozen=True, slots=True)
class Go:
    """One try of the same note and tone, and what changed between it and the one before."""

    one: past.Past
    changes: tuple[equipment.Change, ...]


@dataclass(frozen=True, slots=True)
class OneTonePage:
    row: Try
    sounding: Sounding
    said: Said
    strip: Strip | None
    sentence: str
    neighbours: tuple[Sounding, ...]  # below, this one, above: those that can be heard
    before: tuple[Earlier, ...]
    shown: Shown | None  # how the teacher plays it
    in_lesson: Before | None  # the latest of the same tone that was recorded in a lesson
    comments: tuple[Comment, ...]
    private_notes: tuple[PrivateNote, ...]  # for a teacher
    note_history: tuple[Go, ...]  # every counted try of this note and tone, newest first
    versions: tuple[Version, ...]  # for a teacher, of a take that was measured again
    agrees: bool | None  # for a teacher: whether that ear came to the same as the verdict

    @property
    def horn(self) -> Horn:
        return self.row.horn

    @property
    def on(self) -> dt.date:
        return self.row.on

    @property
    def here(self) -> tuple[float, float]:
        """The stretch that “Hear it” plays: the flagged moment, else the whole tone."""
        return self.sounding.here or (self.sounding.from_s, self.sounding.to_s or 3600.0)

    @property
    def neighbour_json(self) -> str:
        """For hear.js: the neighbours one after another."""
        return json.dumps([one.stretch for one in self.neighbours])


def page(row: Try, *, teacher: User | None = None) -> OneTonePage:
    """A fixed number of queries. ``teacher``: who looks is told of every version of the engine, and what they said."""
    history = past.of_horn(row.horn)
    mine = next((one for one in history if one.key == row.pk), None)
    near = around(mine, history) if mine else {}
    together = _of_lesson(row)
    keys = {row.pk, *(other.key for other in near.values()), *([together] if together else [])}
    heard = soundings(with_relations(Try.objects.filter(pk__in=keys)))
    now = heard[row.pk]
    strip = now.drawn()
    return OneTonePage(
        row=row,
        sounding=now,
        said=said(row, now.tone),
        strip=strip,
        sentence=picture(row, strip.beats_flagged if strip else (), now.tone),
        neighbours=neighbours(near, heard, now),
        before=tuple(
            _earlier(now, before(aim // 7, heard[near[str(aim)].key], now))
            for aim, _, _ in AGO_DAYS
            if str(aim) in near
        ),
        shown=shown([now]).get(row.pk),
        in_lesson=before(0, heard[together], now) if together else None,
        comments=tuple(
            Comment.objects.filter(about_try=row).select_related("by", "voice", "take__analysis").order_by("made_at")
        ),
        private_notes=tuple(PrivateNote.objects.filter(about_try=row).select_related("by")) if teacher else (),
        note_history=_goes(
            row.horn, [one for one in history if (one.written_midi, one.tone) == (row.written_midi, row.tone)]
        ),
        versions=versions.of_tries([row]).get(row.pk, ()) if teacher else (),
        agrees=ear_answers.agreements(teacher, [row.pk]).get(row.pk) if teacher else None,
    )


def _of_lesson(row: Try) -> UUID | None:
    """The latest other go at the same tone that was recorded in a lesson, is kept and could be heard."""
    recorded = Take.objects.filter(horn=row.horn_id, in_lesson=True)
    same = Try.objects.filter(take__in=recorded, written_midi=row.written_midi, tone=row.tone, tone_index__isnull=False)
    kept = same.exclude(pk=row.pk).exclude(take__analysis__audio="")
    return kept.order_by("-played_at").values_list("pk", flat=True).first()


def _goes(horn: Horn, tries: Sequence[past.Past]) -> tuple[Go, ...]:
    """``tries`` oldest first. A change counts to the first try on its day or after it; earlier ones part nothing."""
    made = equipment.changes(horn, tries[0].on) if tries else ()
    goes = [
        Go(one, tuple(change for change in made if before.on < change.on <= one.on))
        for before, one in pairwise((tries[0], *tries) if tries else ())
    ]
    return tuple(reversed(goes))


def _earlier(now: Sounding, then: Before) -> Earlier:
    strip = then.sounding.drawn()
    row, tone = then.sounding.row, then.sounding.tone
    return Earlier(now, then, strip, picture(row, strip.beats_flagged if strip else (), tone), said(row, tone))
