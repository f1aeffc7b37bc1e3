"""Everything that is one student's, table by table: what a copy holds, what deleting deletes, and nothing forgotten.

A test walks the models: one that points to a student, however far, and doesn't stand here fails it.
"""

from __future__ import annotations

from django.db.models import Model, Q, QuerySet

from analysis.models import Analysis, Result
from assignments.models import (
    Agenda,
    Chord,
    Comment,
    DayPlan,
    Decision,
    EarAnswer,
    Ensemble,
    EquipmentChange,
    Exercise,
    GateRule,
    Hearing,
    JudgedAgain,
    LessonDay,
    Milestone,
    Opening,
    PaperDay,
    Part,
    PlayedDay,
    PrivateNote,
    Routine,
    Seat,
    Take,
    TargetChange,
    Try,
    Week,
)
from studio.models import Consent, Horn, LogRow, Membership, Studio, User

# tables with rows that others have a part in
SHARED = ("studios", "people", "ensembles", "chords", "routines", "studio_rules")


def of(student: Membership) -> dict[str, QuerySet[Model]]:
    """By name, in an order in which each row comes after those it points to."""
    horns = Horn.objects.filter(player=student)
    takes = Take.objects.filter(horn__in=horns)
    homes = Membership.objects.filter(wards=student)
    rows: dict[str, QuerySet[Model]] = {
        "studios": Studio.objects.filter(pk=student.studio_id),
        "people": _people(student),
        "memberships": Membership.objects.filter(pk=student.pk),
        "guardians": homes,
        "consents": Consent.objects.filter(student=student),
        "lesson_days": LessonDay.objects.filter(player=student),
        "horns": horns,
        "equipment_changes": EquipmentChange.objects.filter(horn__in=horns),
        "ensembles": _ensembles(student),
        "seats": Seat.objects.filter(horn__in=horns),
        "chords": Chord.objects.filter(pk__in=Part.objects.filter(horn__in=horns).values("chord")),
        "parts": Part.objects.filter(horn__in=horns),
        "studio_rules": GateRule.objects.filter(studio=student.studio_id, horn=None),
        "gate_rules": GateRule.objects.filter(horn__in=horns),
        "target_changes": TargetChange.objects.filter(horn__in=horns),
        "routines": Routine.objects.filter(pk__in=Week.objects.filter(horn__in=horns).values("routine")),
        "weeks": Week.objects.filter(horn__in=horns),
        "exercises": Exercise.objects.filter(week__horn__in=horns),
        "day_plans": DayPlan.objects.filter(horn__in=horns),
        "analyses": recordings(student),
        "results": Result.objects.filter(analysis__take__in=takes),
        "takes": takes,
        "milestones": Milestone.objects.filter(take__in=takes),
        "tries": Try.objects.filter(horn__in=horns),
        "judged_again": JudgedAgain.objects.filter(about_try__horn__in=horns),
        "ear_answers": EarAnswer.objects.filter(about_try__horn__in=horns),
        "played_days": PlayedDay.objects.filter(horn__in=horns),
        "paper_days": PaperDay.objects.filter(horn__in=horns),
        "comments": Comment.objects.filter(horn__in=horns),
        "private_notes": PrivateNote.objects.filter(horn__in=horns),
        "agendas": Agenda.objects.filter(horn__in=horns),
        "decisions": Decision.objects.filter(horn__in=horns),
        "openings": Opening.objects.filter(horn__in=horns),
        "hearings": Hearing.objects.filter(take__in=takes),
        "log": LogRow.objects.filter(about_id=student.pk),
    }  # type: ignore[dict-item]  # querysets of different models
    return {name: found.order_by("pk") for name, found in rows.items()}


def _ensembles(student: Membership) -> QuerySet[Ensemble]:
    """Those that the student sits in or has played in."""
    return Ensemble.objects.filter(
        Q(pk__in=Seat.objects.filter(horn__player=student).values("ensemble"))
        | Q(pk__in=Part.objects.filter(horn__player=student).values("chord__ensemble"))
    )


def recordings(student: Membership) -> QuerySet[Analysis]:
    """What was recorded of the student, and what was said to them aloud."""
    return Analysis.objects.filter(Q(take__horn__player=student) | Q(comment__horn__player=student))


def _people(student: Membership) -> QuerySet[User]:
    """The student, and everybody who stands in the student's rows: who set, said, decided, heard or agreed."""
    mine = Q(pk=student.user_id) | Q(memberships__wards=student)
    sources: tuple[QuerySet[Model], ...] = (
        Week.objects.filter(horn__player=student).values("set_by"),  # type: ignore[assignment]  # rows of one column
        _ensembles(student).values("made_by"),  # type: ignore[assignment]
        Part.objects.filter(horn__player=student).values("chord__by"),  # type: ignore[assignment]
        GateRule.objects.filter(studio=student.studio_id, horn=None).values("by"),  # type: ignore[assignment]
        GateRule.objects.filter(horn__player=student).values("by"),  # type: ignore[assignment]
        TargetChange.objects.filter(horn__player=student).values("by"),  # type: ignore[assignment]
        LessonDay.objects.filter(player=student).values("by"),  # type: ignore[assignment]
        Agenda.objects.filter(horn__player=student).values("by"),  # type: ignore[assignment]
        EquipmentChange.objects.filter(horn__player=student).values("by"),  # type: ignore[assignment]
        PaperDay.objects.filter(horn__player=student).values("by"),  # type: ignore[assignment]
        Comment.objects.filter(horn__player=student).values("by"),  # type: ignore[assignment]
        PrivateNote.objects.filter(horn__player=student).values("by"),  # type: ignore[assignment]
        Decision.objects.filter(horn__player=student).values("by"),  # type: ignore[assignment]
        Milestone.objects.filter(take__horn__player=student).values("by"),  # type: ignore[assignment]
        Hearing.objects.filter(take__horn__player=student).values("by"),  # type: ignore[assignment]
        EarAnswer.objects.filter(about_try__horn__player=student).values("by"),  # type: ignore[assignment]
        Consent.objects.filter(student=student).values("logged_by"),  # type: ignore[assignment]
        LogRow.objects.filter(about_id=student.pk).values("who_id"),  # type: ignore[assignment]
    )
    for source in sources:
        mine |= Q(pk__in=source)
    return User.objects.filter(mine).distinct()
