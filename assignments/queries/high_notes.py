"""High notes: how far? The rule in pictures and in words, and what the teacher decided."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, replace

from django.db.models import Q
from django.utils.translation import gettext as _

from assignments import gate, plans, stages, standings, weeks, words
from assignments.exercises import STAGES
from assignments.models import Decision, Exercise
from assignments.queries import log, past
from assignments.queries.day import plan_of
from studio.models import Horn

DAYS_SHOWN = 10
NOTES_NAMED = 4
FEW = 8  # short notes; more of them are not worth naming
JUST_OPENED_DAYS = 2
BY_HAND = {  # reason -> the decision that it tells of
    "teacher_paused": "pause",
    "teacher_opened": "open",
    "teacher_shut": "shut",
    "teacher_not_yet": "not_yet",
}
DRAWN = ("too_few_days", "days_off_target", "notes_short", "waiting_for_teacher")


@dataclass(frozen=True, slots=True)
class Ground:
    """What ``{% piers %}`` draws."""

    days_on_target: int
    opens_at: int
    notes_standing: int
    notes_in_range: int | None
    teacher_confirms: bool
    teacher_said_yes: bool
    open: bool
    just_opened: bool


@dataclass(frozen=True, slots=True)
class ShortNote:
    written_midi: int
    hits: int
    tries: int
    is_today: bool


@dataclass(frozen=True, slots=True)
class Stage:
    number: int
    title: str
    state: str
    exercise: Exercise | None  # in this week, to be played now


@dataclass(frozen=True, slots=True)
class HighNotesPage:
    horn: Horn
    on: dt.date
    asked: int  # the stage that the page is about
    standing: gate.Standing
    headline: str
    reasons: tuple[str, ...]
    ground: Ground
    days: tuple[gate.Verdict, ...]
    short: tuple[ShortNote, ...]
    stages: tuple[Stage, ...]
    log: tuple[log.LogEntry, ...]
    teacher: str  # who sets the weeks now
    teacher_within: str  # the same within a sentence
    may_play: bool  # a week is set, and nothing hurt today
    said_yes: str  # who listened and said yes; empty: nobody had to, or it isn't open

    @property
    def title(self) -> str:
        return stages.title(self.asked)

    @property
    def is_held(self) -> bool:
        """What was asked for is played; a teacher's word keeps it shut."""
        return bool({"teacher_not_yet", "teacher_shut"} & set(self.standing.reasons)) and not self.short

    @property
    def named(self) -> tuple[ShortNote, ...]:
        """The notes to practise, those of today first."""
        return tuple(sorted(self.short, key=lambda note: not note.is_today))[:NOTES_NAMED]

    @property
    def today_notes(self) -> tuple[ShortNote, ...]:
        few = self.short if len(self.short) <= FEW else ()
        return tuple(note for note in few if note.is_today)[:2]

    @property
    def playable(self) -> Stage | None:
        """The highest open work of this week."""
        return next((stage for stage in reversed(self.stages) if stage.exercise and stage.state == "open"), None)


def page(horn: Horn, on: dt.date) -> HighNotesPage:
    """A fixed number of queries."""
    ladder = standings.ladders([horn], on)[horn.pk]
    asked = _stage_to_show(ladder, on)
    standing = ladder[asked]
    plan = plan_of(horn, on)
    week = plan.week if plan else weeks.in_force(horn, on)
    teacher = weeks.teacher_now(week, horn) if week else ""
    deciders = _deciders(horn, asked, on)
    by_hand = next((deciders[BY_HAND[reason]] for reason in standing.reasons if BY_HAND.get(reason) in deciders), "")
    said_yes = deciders.get("confirm", "") if standing.is_open and "teacher_opened" not in standing.reasons else ""
    today = {tone["written_midi"] for tone in plan.tones} if plan else set()
    return HighNotesPage(
        horn=horn,
        on=on,
        asked=asked,
        standing=standing,
        headline=words.headline(standing, "student", teacher=teacher),
        reasons=words.reasons(replace(standing, reasons=_not_drawn(standing)), "student", teacher=by_hand),
        ground=_ground(standing, on),
        days=standing.days[-DAYS_SHOWN:],
        short=_short(horn, standing, today),
        stages=_stages(ladder, list(week.exercises.all()) if week else []),
        log=log.entries(horn, ladder),
        teacher=teacher or _("Your teacher"),
        teacher_within=teacher or _("your teacher"),
        may_play=week is not None and on not in plans.hurt_days(horn, on),
        said_yes=said_yes,
    )


def _deciders(horn: Horn, stage: int, on: dt.date) -> dict[str, str]:
    """By kind of decision: who made the last one that the stage stands under."""
    rows = Decision.objects.filter(Q(stage=stage) | Q(stage=None), horn=horn, on__lte=on).select_related("by")
    return {row.kind: row.by.get_short_name() if row.by else "" for row in rows.order_by("on", "made_at")}


def _stage_to_show(ladder: standings.Ladder, on: dt.date) -> int:
    """The stage that is asked about; while nobody asks for it yet, the open one below."""
    asked = standings.stage_asked(ladder)
    if asked == 1 or ladder[asked].is_open or standings.waits_for_an_ear(ladder, on):
        return asked
    return asked - 1


def _not_drawn(standing: gate.Standing) -> tuple[str, ...]:
    """The reasons that the piers and the sentences under them don't show already."""
    return tuple(reason for reason in standing.reasons if reason not in DRAWN)


def _ground(standing: gate.Standing, on: dt.date) -> Ground:
    rule = standing.rule
    opened_on = standing.opened_on
    return Ground(
        days_on_target=standing.window.on_target,
        opens_at=rule.opens_at,
        notes_standing=standing.notes_asked - len(standing.notes_short),
        notes_in_range=standing.notes_asked if rule.note_tries else None,
        teacher_confirms=rule.teacher_confirms,
        teacher_said_yes=standing.is_open,
        open=standing.is_open,
        just_opened=standing.is_open and opened_on is not None and (on - opened_on).days < JUST_OPENED_DAYS,
    )


def _short(horn: Horn, standing: gate.Standing, today: set[int]) -> tuple[ShortNote, ...]:
    if not standing.rule.note_tries:
        return ()
    lately: dict[int, list[bool]] = {}
    for row in (row for row in past.of_horn(horn) if row.speaks):
        lately.setdefault(row.written_midi, []).append(row.outcome == "hit")
    tries = standing.rule.note_tries
    return tuple(
        ShortNote(midi, sum(lately.get(midi, [])[-tries:]), len(lately.get(midi, [])[-tries:]), midi in today)
        for midi in standing.notes_short
    )


def _stages(ladder: standings.Ladder, exercises: list[Exercise]) -> tuple[Stage, ...]:
    return tuple(
        Stage(
            stage,
            stages.title(stage),
            ladder[stage].state if all(ladder[below].state == "open" for below in range(1, stage)) else "waits",
            next((exercise for exercise in exercises if exercise.stage == stage), None),
        )
        for stage in STAGES
    )
