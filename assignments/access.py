"""Loading work together with the right to it; a stranger gets the same 404 as for what isn't there."""

from __future__ import annotations

from typing import TypeVar
from uuid import UUID

from django.db.models import Model, QuerySet
from django.http import Http404

from assignments.models import Chord, Comment, DayPlan, Demonstration, Ensemble, Exercise, Take, Try
from studio.access import STAFF, Role, horns_of_player, horns_within_sight, memberships
from studio.models import Horn, User

Row = TypeVar("Row", bound=Model)


def horn_of_player(user: User, horn_id: UUID | None = None) -> Horn:
    """The student's own horn; without an id the one in use longest."""
    own = horns_of_player(user)
    found = own.filter(pk=horn_id).first() if horn_id else own.first()
    if found is None:
        raise Http404
    return found


def horn_within_sight(user: User, horn_id: UUID) -> Horn:
    return _or_404(horns_within_sight(user).filter(pk=horn_id))


def exercise_of_player(user: User, exercise_id: UUID) -> Exercise:
    return _or_404(
        Exercise.objects.filter(pk=exercise_id, week__horn__in=horns_of_player(user)).select_related(
            "week__horn__player__studio", "part__chord__ensemble", "part__horn"
        )
    )


def plan_of_player(user: User, plan_id: UUID) -> DayPlan:
    return _or_404(DayPlan.objects.filter(pk=plan_id, horn__in=horns_of_player(user)).select_related("week", "horn"))


def own_takes(user: User) -> QuerySet[Take]:
    """What was recorded on the horns that the student plays now."""
    return Take.objects.filter(horn__in=horns_of_player(user))


def takes_within_sight(user: User) -> QuerySet[Take]:
    return Take.objects.filter(horn__in=horns_within_sight(user)).select_related(
        "analysis", "exercise__week", "horn__player__user", "horn__player__studio"
    )


def take_within_sight(user: User, take_id: UUID) -> Take:
    return _or_404(takes_within_sight(user).filter(pk=take_id))


def try_within_sight(user: User, try_id: UUID) -> Try:
    return _or_404(
        Try.objects.filter(pk=try_id, horn__in=horns_within_sight(user)).select_related(
            "take__analysis", "take__exercise__week", "horn__player__user", "horn__player__studio"
        )
    )


def demonstration_within_sight(user: User, demonstration_id: UUID) -> Demonstration:
    """Whoever has a place in the studio may hear how its teachers play."""
    studios = memberships(user, tuple(Role.values)).values("studio")
    rows = Demonstration.objects.filter(pk=demonstration_id, studio__in=studios)
    return _or_404(rows.select_related("analysis"))


def spoken_within_sight(user: User, comment_id: UUID) -> Comment:
    """A word said aloud about a student whom ``user`` may see."""
    rows = Comment.objects.filter(pk=comment_id, voice__isnull=False, horn__in=horns_within_sight(user))
    return _or_404(rows.select_related("voice", "horn__player__studio"))


def teaches(user: User, horn: Horn, roles: tuple[str, ...] = STAFF) -> bool:
    """Whether ``user`` works, under one of ``roles``, in the studio of that horn's player."""
    return memberships(user, roles).filter(studio=horn.player.studio_id).exists()


def ensemble_of_staff(user: User, ensemble_id: UUID, roles: tuple[str, ...]) -> Ensemble:
    """An ensemble of a studio that ``user`` works in under one of ``roles``."""
    studios = [row.studio_id for row in memberships(user, roles)]
    return _or_404(Ensemble.objects.filter(pk=ensemble_id, studio__in=studios).select_related("studio"))


def chord_of_staff(user: User, chord_id: UUID, roles: tuple[str, ...]) -> Chord:
    studios = [row.studio_id for row in memberships(user, roles)]
    rows = Chord.objects.filter(pk=chord_id, ensemble__studio__in=studios)
    return _or_404(rows.select_related("ensemble__studio", "by"))


def _or_404(rows: QuerySet[Row]) -> Row:
    found = rows.first()
    if found is None:
        raise Http404
    return found
