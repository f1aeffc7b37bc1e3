"""Bringing somebody into a studio, giving a student a horn, and saying good-bye."""

from __future__ import annotations

import datetime as dt
import re
import unicodedata
import uuid
from dataclasses import dataclass

from django.db import transaction
from django.db.models import Q
from django.utils import timezone
from django.utils.translation import gettext as _

from studio import access_log, passphrases, sessions
from studio.access import STAFF, belongs_somewhere
from studio.models import Horn, Invitation, Membership, Studio, User

LONGEST_STEM = 30  # letters of a name for signing in, before a number; a longer name ends with a whole word

What = access_log.What
Role = Membership.Role


class PlaceRefusedError(Exception):
    """Nobody's place in a studio can be that; the text says what to do first."""


@dataclass(frozen=True, slots=True)
class SignIn:
    """What is printed on a slip of paper once: the passphrase itself is kept nowhere."""

    name: str
    username: str
    passphrase: str


@dataclass(frozen=True, slots=True)
class Lesson:
    """When a student's lesson is, in studio-local time. Monday is 0."""

    weekday: int | None = None
    at: dt.time | None = None


@dataclass(frozen=True, slots=True)
class Details:
    """What changes about a student. ``ends_on``: the last day in the studio, None lets them stay."""

    name: str
    lesson: Lesson
    ends_on: dt.date | None
    of_age: bool


@transaction.atomic
def enrol(
    *,
    studio: Studio,
    role: str,
    name: str,
    username: str = "",
    key: uuid.UUID | None = None,
    lesson: Lesson | None = None,
    by: User | None = None,
) -> tuple[Membership, SignIn | None]:
    """Make an account and its place in the studio. Without a username, or where somebody was faster to take it, one is
    made from the name.

    ``key`` becomes the membership's id: sent twice, the second finds the first, and there is no passphrase to print.
    """
    known = Membership.objects.filter(pk=key).select_related("user").first() if key else None
    if known is not None and known.studio_id == studio.pk:
        return known, None
    is_free = username and not User.objects.filter(username=username).exists()
    wanted = username if is_free else free_username(name)
    passphrase = passphrases.make()
    user = User.objects.create_user(wanted, password=passphrase, name=name)
    lesson = lesson or Lesson()
    membership = Membership.objects.create(
        pk=key if key and known is None else uuid.uuid4(),  # one of another studio is as good as none
        user=user,
        studio=studio,
        role=role,
        joined_on=studio.today(),
        lesson_weekday=lesson.weekday,
        lesson_at=lesson.at,
    )
    access_log.write(What.JOINED, studio=studio, who=by or user, about=membership)
    return membership, SignIn(name, wanted, passphrase)


def give_horn(
    *, player: Membership, kind: str, lowest_written_midi: int, highest_keyed_written_midi: int, level: str
) -> Horn:
    """A horn in use from today: its own range, history and gate. It takes the studio's A4."""
    return Horn.objects.create(
        player=player,
        kind=kind,
        lowest_written_midi=lowest_written_midi,
        highest_keyed_written_midi=highest_keyed_written_midi,
        level=level,
        a4_hz=player.studio.a4_hz,
        in_use_since_on=player.studio.today(),
    )


def put_horn_away(horn: Horn) -> None:
    """Its history stays; nothing new is asked for on it."""
    horn.put_away_on = horn.studio.today()
    horn.save(update_fields=["put_away_on"])


@transaction.atomic
def change_passphrase(member: Membership, *, by: User) -> SignIn:
    """A new passphrase for somebody who lost theirs. The old one, and whoever is signed in with it, stop at once."""
    user, passphrase = member.user, passphrases.make()
    user.set_password(passphrase)
    user.save(update_fields=["password"])
    sessions.end_all(user)
    access_log.write(What.SLIP, studio=member.studio, who=by, about=member)
    return SignIn(user.name, user.username, passphrase)


@transaction.atomic
def change_details(member: Membership, details: Details, *, by: User) -> None:
    member.user.name = details.name
    member.user.save(update_fields=["name"])
    if (member.ends_on, member.of_age) != (details.ends_on, details.of_age):
        access_log.write(What.ROLE, studio=member.studio, who=by, about=member)
    member.lesson_weekday, member.lesson_at = details.lesson.weekday, details.lesson.at
    member.ends_on, member.of_age = details.ends_on, details.of_age
    member.save(update_fields=["lesson_weekday", "lesson_at", "ends_on", "of_age"])
    _end_sessions_of_whoever_left(member.user)


@transaction.atomic
def change_place(member: Membership, *, role: str, ends_on: dt.date | None, by: User) -> None:
    """What somebody on the staff may do, and until which day. It counts from their next request on.

    Raises PlaceRefusedError. Changes in one studio come one after another: of two owners who each make the other a
    teacher at the same moment, the second is refused.
    """
    see_that_it_can_be(member, role, ends_on)
    access_log.write(What.ROLE, studio=member.studio, who=by, about=member)
    member.role, member.ends_on = role, ends_on
    member.save(update_fields=["role", "ends_on"])
    _end_sessions_of_whoever_left(member.user)


def see_that_it_can_be(member: Membership, role: str, ends_on: dt.date | None) -> None:
    """Raises PlaceRefusedError where it can't. Asked in a transaction, at whose end the studio's staff is let go."""
    staff = Membership.objects.select_for_update(no_key=True).filter(studio=member.studio, role__in=STAFF)
    places = list(staff.order_by("pk"))  # locked in one order, so that two who change places don't wait for each other
    owners = [place for place in places if place.role == Role.OWNER]
    stays_owner = role == Role.OWNER and ends_on is None
    if member in owners and not stays_owner and not any(one.ends_on is None for one in owners if one != member):
        raise PlaceRefusedError(_("Make somebody else an owner first: a studio is never without one."))
    if any((one.user_id, one.role) == (member.user_id, role) for one in places if one != member):
        raise PlaceRefusedError(_("This person has a place with that role already."))


@transaction.atomic
def hand_over(leaving: Membership, *, to: Membership, by: User) -> int:
    """Give every student of one teacher to another. Returns how many there were."""
    students = list(leaving.students.all())
    to.students.add(*students)
    leaving.students.clear()
    for student in students:
        access_log.write(What.ROLE, studio=leaving.studio, who=by, about=student)
    return len(students)


@transaction.atomic
def part(student: Membership, *, guardian: Membership, by: User) -> None:
    """From the next click on, ``guardian`` sees nothing of ``student`` any more; of other wards as before.

    Codes that lead to the child and nobody has used open nothing either: they may lie in that house.
    """
    access_log.write(What.ROLE, studio=student.studio, who=by, about=student)
    guardian.wards.remove(student)
    unused = Invitation.objects.filter(Q(ward=student) | Q(member=student), used_at=None, revoked_at=None)
    if unused.update(revoked_at=timezone.now()):
        access_log.write(What.UNINVITED, studio=student.studio, who=by, about=student)


def _end_sessions_of_whoever_left(user: User) -> None:
    """Who belongs nowhere any more is signed out everywhere."""
    if not belongs_somewhere(user):
        sessions.end_all(user)


def free_username(name: str) -> str:
    """``tamsin``, or ``tamsin-2`` when that is taken: plain letters, so that every keyboard can type it."""
    plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode().lower()
    whole = re.sub(r"[^a-z0-9]+", "-", plain).strip("-") or "player"
    stem = whole if len(whole) <= LONGEST_STEM else whole[: LONGEST_STEM + 1].rpartition("-")[0] or whole[:LONGEST_STEM]
    taken = set(User.objects.filter(username__startswith=stem).values_list("username", flat=True))
    if stem not in taken:
        return stem
    return next(f"{stem}-{number}" for number in range(2, len(taken) + 3) if f"{stem}-{number}" not in taken)
