"""High notes: how far? The rule in pictures and in words, and what the teacher decided."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from django.template.defaultfilters import date as date_words
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from assignments import gate, stages, standings, weeks
from assignments.exercises import STAGES
from assignments.models import Decision, Exercise
from assignments.queries import past
from assignments.queries.day import plan_of
from studio.models import Horn

DAYS_SHOWN = 10
NOTES_NAMED = 4
FEW = 8  # short notes; more of them are not worth naming
JUST_OPENED_DAYS = 2


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
    asked: int  # the stage that is asked about
    standing: gate.Standing
    headline: str
    reasons: tuple[str, ...]
    ground: Ground
    days: tuple[gate.Verdict, ...]
    short: tuple[ShortNote, ...]
    stages: tuple[Stage, ...]
    decisions: tuple[Decision, ...]
    teacher: str

    @property
    def title(self) -> str:
        return stages.title(self.asked)

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
    asked = standings.stage_asked(ladder)
    standing = ladder[asked]
    plan = plan_of(horn, on)
    week = plan.week if plan else weeks.in_force(horn, on)
    teacher = week.set_by.get_short_name() if week and week.set_by else _("your teacher")
    today = {tone["written_midi"] for tone in plan.tones} if plan else set()
    return HighNotesPage(
        horn=horn,
        on=on,
        asked=asked,
        standing=standing,
        headline=_headline(standing, teacher),
        reasons=_reasons(standing, teacher),
        ground=_ground(standing, on),
        days=standing.days[-DAYS_SHOWN:],
        short=_short(horn, standing, today),
        stages=_stages(ladder, list(week.exercises.all()) if week else []),
        decisions=tuple(Decision.objects.filter(horn=horn).select_related("by").order_by("-made_at")[:3]),
        teacher=teacher,
    )


def _headline(standing: gate.Standing, teacher: str) -> str:
    """The six headlines; while building it counts what is laid."""
    if standing.state == "paused":
        until = date_words(standing.until, "j F") if standing.until else ""
        return _("On a pause until %(day)s") % {"day": until} if until else _("On a pause")
    if standing.state == "building":
        return _("Laying the ground: %(days)d of %(window)d days, %(notes)d of %(all)d notes") % {
            "days": standing.window.on_target,
            "window": standing.rule.window_days,
            "notes": standing.notes_asked - len(standing.notes_short),
            "all": standing.notes_asked,
        }
    return {
        "ready": _("The rule is met. %(teacher)s listens next.") % {"teacher": teacher},
        "open": _("Open. Start with three minutes, after the low notes."),
        "resting": _("Welcome back. First some on-target days, then high notes again."),
        "shut": _("Back to the ground for a while. What you laid is still there."),
    }[standing.state]


def _reasons(standing: gate.Standing, teacher: str) -> tuple[str, ...]:
    """What the headline and the piers don't say already."""
    words = {
        "teacher_paused": _("%(teacher)s set the pause. Nothing counts against you.") % {"teacher": teacher},
        "teacher_opened": _("%(teacher)s opened this by hand.") % {"teacher": teacher},
        "teacher_shut": _("%(teacher)s shut this by hand. Ask what it waits for.") % {"teacher": teacher},
        "teacher_not_yet": _("%(teacher)s has listened and said: not yet. Keep going.") % {"teacher": teacher},
        "slipping": _("The ground is getting thin. A few good low days bring it back."),
        "shutting_soon": _("The high notes shut in a few days unless the low notes are on target again."),
        "after_break": ngettext(
            "%(n)d on-target day, then high notes again.",
            "%(n)d on-target days, then high notes again.",
            standing.rest_days_left,
        )
        % {"n": standing.rest_days_left},
    }
    return tuple(words[code] for code in standing.reasons if code in words)


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
    for row in past.counted(past.of_horn(horn)):
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
