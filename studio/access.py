"""Who may see whom. Loading and authorising is one step; a stranger gets the same 404 as for what isn't there."""

from __future__ import annotations

import datetime as dt
import uuid
from uuid import UUID

from django.core.exceptions import PermissionDenied
from django.db.models import Exists, OuterRef, Q, QuerySet
from django.http import Http404, HttpRequest
from django.utils import timezone

from studio.models import Horn, Membership, Studio, User

Role = Membership.Role
STAFF = (Role.OWNER, Role.TEACHER, Role.ASSISTANT)  # hear and see the studio's students
DECIDERS = (Role.OWNER, Role.TEACHER)  # set weeks, open gates


def signed_in(request: HttpRequest) -> User:
    """Who is asking. Raises PermissionDenied for nobody; views ask people to sign in before it comes to that."""
    if not isinstance(request.user, User):
        raise PermissionDenied
    return request.user


def memberships(user: User, roles: tuple[str, ...]) -> QuerySet[Membership]:
    """The memberships of ``user`` that open something today, in ``roles``."""
    open_ones = [row.pk for row in _open(user, roles)]
    return Membership.objects.filter(pk__in=open_ones).select_related("studio", "user")


def belongs_somewhere(user: User) -> bool:
    return bool(places_held(user, tuple(Role.values)))


def place_held(user: User, studio_id: UUID, roles: tuple[str, ...]) -> Membership | None:
    """What ``user`` is in that studio under one of ``roles``, though it may stay shut until they have a second step."""
    return next((row for row in places_held(user, roles) if row.studio_id == studio_id), None)


def must_have_second_step(user: User) -> bool:
    """Whether a studio that ``user`` works in opens only after a second step. Support sees into every studio."""
    return any(_asks(row) for row in places_held(user, STAFF)) or (user.is_staff and _one_asks())


def _one_asks() -> bool:
    """Whether there is a studio that opens only after a second step."""
    asked = list(Studio.objects.values_list("second_step_for_staff", flat=True)[:2])
    return len(asked) > 1 or any(asked)


def is_among_others(studio: Studio) -> bool:
    """Whether there are other studios on its site: then its staff's second step is not the owner's to choose."""
    return Studio.objects.exclude(pk=studio.pk).exists()


def _asks(place: Membership) -> bool:
    """Of a row of ``places_held``: whether it opens only after a second step."""
    return place.role in STAFF and (place.studio.second_step_for_staff or place.is_among_others)  # type: ignore[attr-defined]


def _open(user: User, roles: tuple[str, ...]) -> list[Membership]:
    """The same as ``memberships``, read: one query. Staff without a second step that is asked for: none."""
    return [row for row in places_held(user, roles) if hasattr(row.user, "second_step") or not _asks(row)]


def places_held(user: User, roles: tuple[str, ...]) -> list[Membership]:
    """What ``user`` is today, in every studio, though it may stay shut until they have a second step.

    Ends are studio-local days; the day after the last one in the earliest time zone is too late everywhere."""
    yesterday = timezone.now().date() - dt.timedelta(days=1)
    rows = Membership.objects.filter(user=user, role__in=roles).select_related("studio", "user__second_step")
    rows = rows.annotate(is_among_others=Exists(Studio.objects.exclude(pk=OuterRef("studio_id"))))
    return [
        row
        for row in rows.filter(Q(ends_on=None) | Q(ends_on__gte=yesterday))
        if row.ends_on is None or row.ends_on >= row.studio.today()
    ]


def places_of_work(user: User) -> list[Membership]:
    """Where ``user`` is on the staff; first the studio that they turned to last, else the one they joined first."""
    never = dt.datetime.min.replace(tzinfo=dt.UTC)
    places = sorted(_open(user, STAFF), key=lambda place: (place.joined_on, place.pk))
    return sorted(places, key=lambda place: place.turned_to_at or never, reverse=True)  # stable, backwards too


def staff_membership(user: User, roles: tuple[str, ...] = STAFF) -> Membership:
    """The studio that ``user`` works in now, under one of ``roles``. Raises Http404 for everybody else."""
    places = places_of_work(user)
    here = [place for place in places if place.studio_id == places[0].studio_id and place.role in roles]
    if not here:
        raise Http404
    return here[0]


def turn_to(user: User, membership_id: UUID) -> None:
    """From now on the pages are those of another studio that ``user`` works in. Raises Http404 for any other."""
    place = next((one for one in places_of_work(user) if one.pk == membership_id), None)
    if place is None:
        raise Http404
    place.turned_to_at = timezone.now()
    place.save(update_fields=["turned_to_at"])


def horns_of_player(user: User) -> QuerySet[Horn]:
    return (
        Horn.objects.filter(player__in=memberships(user, (Role.STUDENT,)), put_away_on=None)
        .select_related("player__user", "player__studio")
        .order_by("in_use_since_on", "pk")
    )


def horns_of_studio(user: User, roles: tuple[str, ...] = STAFF) -> QuerySet[Horn]:
    """Every horn in use by a student whose studio ``user`` works in under one of ``roles``."""
    return _horns_in_use([row.studio_id for row in memberships(user, roles)])


def horns_of_staff(staff: Membership) -> QuerySet[Horn]:
    """The same for somebody whose membership has been looked up already."""
    return _horns_in_use([staff.studio_id])


def _horns_in_use(studios: list[uuid.UUID]) -> QuerySet[Horn]:
    return (
        Horn.objects.filter(player__studio__in=studios, player__role=Role.STUDENT, put_away_on=None)
        .select_related("player__user", "player__studio")
        .order_by("player__user__name", "pk")
    )


def horn_for_staff(user: User, horn_id: UUID, roles: tuple[str, ...] = STAFF) -> Horn:
    found = horns_of_studio(user, roles).filter(pk=horn_id).first()
    if found is None:
        raise Http404
    return found


def horns_within_sight(user: User) -> QuerySet[Horn]:
    """Own horns, those of the studio one works in, and those of one's wards."""
    studios = [row.studio_id for row in memberships(user, STAFF)]
    wards = memberships(user, (Role.GUARDIAN,)).values("wards")
    return Horn.objects.filter(
        Q(player__in=memberships(user, (Role.STUDENT,))) | Q(player__studio__in=studios) | Q(player__in=wards)
    ).select_related("player__user", "player__studio")


def member_of_studio(user: User, membership_id: UUID, roles: tuple[str, ...] = DECIDERS) -> Membership:
    """Somebody who belongs, or belonged, to the studio that ``user`` works in under one of ``roles``."""
    studios = [row.studio_id for row in memberships(user, roles)]
    found = Membership.objects.filter(pk=membership_id, studio__in=studios).select_related("user", "studio").first()
    if found is None:
        raise Http404
    return found


def student_of_studio(user: User, membership_id: UUID, roles: tuple[str, ...] = DECIDERS) -> Membership:
    """A student who belongs, or belonged, to the studio that ``user`` works in under one of ``roles``."""
    found = member_of_studio(user, membership_id, roles)
    if found.role != Role.STUDENT:
        raise Http404
    return found


def colleague_of_owner(user: User, membership_id: UUID) -> Membership:
    """Somebody on the staff of the studio that ``user`` owns; the owner too."""
    found = member_of_studio(user, membership_id, (Role.OWNER,))
    if found.role not in STAFF:
        raise Http404
    return found


def resettable_by(staff: Membership, member: Membership) -> Membership:
    """``member``, if ``staff`` may give that account a new way in: every place it has is in this studio and below.

    Otherwise a teacher of one studio could open what the same person may see in another. Raises Http404.
    """
    if not is_resettable_by(staff, member):
        raise Http404
    return member


def is_resettable_by(staff: Membership, member: Membership) -> bool:
    below = {Role.STUDENT, Role.GUARDIAN} | ({Role.ASSISTANT, Role.TEACHER} if staff.role == Role.OWNER else set())
    places = Membership.objects.filter(user=member.user)
    return not member.user.is_staff and all(row.studio_id == staff.studio_id and row.role in below for row in places)


def wards(user: User) -> QuerySet[Membership]:
    """The students that ``user`` is a guardian of."""
    homes = memberships(user, (Role.GUARDIAN,))
    found = Membership.objects.filter(guardians__in=homes, role=Role.STUDENT).distinct()
    return found.select_related("user", "studio").order_by("user__name", "pk")


def of_family(user: User, membership_id: UUID) -> Membership:
    """A student for whom ``user`` decides at home: a guardian's ward, or oneself when of age. Raises Http404."""
    own = memberships(user, (Role.STUDENT,)).filter(of_age=True, pk=membership_id).select_related("user", "studio")
    found = own.first() or wards(user).filter(pk=membership_id).first()
    if found is None:
        raise Http404
    return found


def is_of_family(user: User, membership_id: UUID) -> bool:
    """Whether ``user`` decides at home for this student."""
    try:
        of_family(user, membership_id)
    except Http404:
        return False
    return True


def of_family_or_studio(user: User, membership_id: UUID, roles: tuple[str, ...] = DECIDERS) -> Membership:
    """A student for whom ``user`` decides at home, or in the studio under one of ``roles``. Raises Http404."""
    try:
        return of_family(user, membership_id)
    except Http404:
        return student_of_studio(user, membership_id, roles)
